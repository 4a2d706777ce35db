"""Reads across people."""

from __future__ import annotations

from django.db.models import QuerySet

from shopflow.people.models import Role, ShopSettings, User


def people() -> QuerySet[User]:
    """Everybody, those who left at the end."""
    return User.objects.prefetch_related("grants").order_by("-is_active", "full_name", "username")


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
