"""The only writes to people, their roles and how they log in. The ledger names people by id and carries no names."""

from __future__ import annotations

import secrets
from collections.abc import Iterable

from django.contrib.auth.hashers import make_password
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from shopflow.people import queries
from shopflow.people.access import Act, require
from shopflow.people.log_in import badge_digest
from shopflow.people.models import Role, RoleGrant, ShopSettings, User
from shopflow.records import ledger

BADGE_LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ23456789"
"""Without 0, O, 1 and I, for the day when somebody has to type a badge."""
BADGE_LENGTH = 20
SHORTEST_BADGE = 12


@transaction.atomic
def add_person(
    *, username: str, full_name: str, roles: Iterable[str], password: str, by: User | None, temporary: bool = True
) -> User:
    """Add somebody; the password is theirs to change at the first log-in unless it is not temporary.

    by: None for the shop's very first person, and for nobody after that.
    """
    _require_editor(by)
    user = User(username=username, full_name=full_name, password_is_temporary=temporary)
    validate_password(password, user)
    user.set_password(password)
    user.full_clean()
    user.save()
    ledger.append("person_added", chain=ledger.SHOP, subject=("person", user.pk), by=by)
    _set_roles(user, roles, by=by)
    return user


def _require_editor(by: User | None) -> None:
    if by is not None:
        require(by, Act.EDIT_PEOPLE)
    elif not queries.nobody_yet():
        raise ValidationError(_("There are people in this shop already: ask a lead to add you."))


@transaction.atomic
def change_person(
    user: User, *, username: str, full_name: str, roles: Iterable[str], is_active: bool, by: User
) -> User:
    """Correct names, roles and whether they still work here; the last lead stays one."""
    require(by, Act.EDIT_PEOPLE)
    user = User.objects.select_for_update().get(pk=user.pk)
    roles = frozenset(roles)
    if queries.is_last_lead(user) and not (is_active and Role.LEAD in roles):
        raise ValidationError(_("Nobody else is a lead: make somebody else one first."))
    changed = [
        name
        for name, value in (("username", username), ("full_name", full_name), ("is_active", is_active))
        if getattr(user, name) != value
    ]
    user.username, user.full_name, user.is_active = username, full_name, is_active
    user.full_clean()
    user.save()
    if changed:
        ledger.append("person_changed", chain=ledger.SHOP, subject=("person", user.pk), by=by, fields=changed)
    _set_roles(user, roles, by=by)
    return user


def _set_roles(user: User, roles: Iterable[str], *, by: User | None) -> None:
    before, after = set(user.roles), {Role(role) for role in roles}
    if before == after:
        return
    user.grants.exclude(role__in=after).delete()
    RoleGrant.objects.bulk_create(RoleGrant(user=user, role=role) for role in sorted(after - before))
    user.forget_roles()
    subject, was, now = ("person", user.pk), sorted(before), sorted(after)
    ledger.append("roles_changed", chain=ledger.SHOP, subject=subject, by=by, before=was, after=now)


@transaction.atomic
def give_password(user: User, *, password: str, by: User) -> None:
    """Set a password for somebody who lost theirs; it opens nothing but the page where they choose their own."""
    require(by, Act.EDIT_PEOPLE)
    validate_password(password, user)
    user.set_password(password)
    user.password_is_temporary = True
    user.save(update_fields=["password", "password_is_temporary"])
    ledger.append("password_given", chain=ledger.SHOP, subject=("person", user.pk), by=by)


@transaction.atomic
def issue_badge(user: User, *, by: User, code: str = "") -> str:
    """Make a badge and void the one before; its code is given back once and cannot be shown again.

    code: of a badge that the person has already, long enough not to be guessed; a new one is made when it is empty.
    """
    require(by, Act.EDIT_PEOPLE)
    if code and len(code) < SHORTEST_BADGE:
        raise ValidationError(_("The code of this badge is too short: it could be guessed."))
    code = code or "".join(secrets.choice(BADGE_LETTERS) for _place in range(BADGE_LENGTH))
    _set_badge(user, code, by=by)
    return code


def _set_badge(user: User, code: str, *, by: User) -> None:
    user.badge_digest = badge_digest(code)
    user.save(update_fields=["badge_digest"])
    ledger.append("badge_issued", chain=ledger.SHOP, subject=("person", user.pk), by=by)


@transaction.atomic
def take_badge(user: User, *, by: User) -> None:
    """Void the badge; whoever is logged in with it is logged out by their next step."""
    require(by, Act.EDIT_PEOPLE)
    user.badge_digest = None
    user.save(update_fields=["badge_digest"])
    ledger.append("badge_taken", chain=ledger.SHOP, subject=("person", user.pk), by=by)


@transaction.atomic
def change_units(*, units: str, by: User) -> None:
    by.units = units
    by.full_clean(exclude=["password"])
    by.save(update_fields=["units"])
    ledger.append("units_changed", chain=ledger.SHOP, subject=("person", by.pk), by=by, units=units)


@transaction.atomic
def change_password(*, old: str, new: str, by: User) -> None:
    """Choose one's own password; the old one is asked for, since a desk may be left unlocked."""
    _check_own_password(by, old)
    if new == old:
        raise ValidationError(_("This is the password you have: choose another one."))
    validate_password(new, by)
    by.set_password(new)
    by.password_is_temporary = False
    by.save(update_fields=["password", "password_is_temporary"])
    ledger.append("password_changed", chain=ledger.SHOP, subject=("person", by.pk), by=by)


@transaction.atomic
def change_pin(*, password: str, pin: str, by: User) -> None:
    """Choose one's own PIN for stations."""
    _check_own_password(by, password)
    _check_pin(pin)
    by.pin_hash = make_password(pin)
    by.save(update_fields=["pin_hash"])
    ledger.append("pin_changed", chain=ledger.SHOP, subject=("person", by.pk), by=by)


def _check_own_password(by: User, password: str) -> None:
    if not by.check_password(password):
        raise ValidationError(_("That is not your present password."))


def _check_pin(pin: str) -> None:
    if not (pin.isascii() and pin.isdigit() and 4 <= len(pin) <= 8):
        raise ValidationError(_("A PIN is four to eight digits."))
    if len(set(pin)) == 1 or pin in "0123456789" or pin in "9876543210":
        raise ValidationError(_("This PIN is guessed at once: avoid one digit repeated and digits in a row."))


@transaction.atomic
def change_shop_settings(
    *, name: str, address: str, by: User, paper_size: str = "", worked_days: Iterable[str] = ()
) -> ShopSettings:
    """The shop's name and address, as papers print them, the size of the paper, and the weekdays that are worked by
    their numbers; what is empty of the last two stays as it is."""
    require(by, Act.EDIT_PEOPLE)
    row = queries.shop_settings()
    row.name, row.address, row.paper_size = name, address, paper_size or row.paper_size
    row.worked_days = "".join(sorted(worked_days)) or row.worked_days
    row.full_clean()
    row.save()
    ledger.append("shop_settings_changed", chain=ledger.SHOP, subject=("shop", row.pk), by=by, days=row.worked_days)
    return row
