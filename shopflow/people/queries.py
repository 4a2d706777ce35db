"""Reads across people."""

from __future__ import annotations

from collections.abc import Collection

from django.db.models import QuerySet

from shopflow.people.models import Role, ShopSettings, User
from shopflow.records.models import LedgerRow


def people() -> QuerySet[User]:
    """Everybody, those who left at the end."""
    return User.objects.prefetch_related("grants").order_by("-is_active", "full_name", "username")


def last_to(kinds: Collection[str], *, subject: tuple[str, int]) -> User | None:
    """Who did one of these kinds of things last to a subject, as the ledger names both; None where nobody did."""
    rows = LedgerRow.objects.filter(kind__in=kinds, subject_kind=subject[0], subject_id=subject[1])
    last = rows.select_related("by").order_by("-at", "-seq").first()
    return last.by if last else None


def active_with_role(role: str) -> QuerySet[User]:
    return people().filter(is_active=True, grants__role=role)


def nobody_yet() -> bool:
    """Whether the shop is new and nobody can log in."""
    return not User.objects.exists()


def is_last_lead(user: User) -> bool:
    """Whether nobody but this person could let others in."""
    return user.is_active and user.holds(Role.LEAD) and not active_with_role(Role.LEAD).exclude(pk=user.pk).exists()


def shop_settings() -> ShopSettings:
    """The shop's name and address; an unsaved row while none was typed."""
    return ShopSettings.objects.first() or ShopSettings()
