"""The only writes to the shop's own control profiles. Each stands in the history with who, what and why."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from shopflow.core.nc import CONTROLS, ControlFile
from shopflow.core.nc.control_values import plain, problems, settings
from shopflow.core.types import ControlProfile as CoreProfile
from shopflow.people.access import Act, require
from shopflow.people.models import User
from shopflow.records import ledger
from shopflow.shop import changes, queries
from shopflow.shop.actions import HIDDEN, InUse
from shopflow.shop.models import ControlProfile, ControlProfileChange, Machine

WORDS = ("title", "control_macros")
"""What holds free text, which may name people and which the ledger could not forget."""


@transaction.atomic
def copy_control(source: str, *, name: str, title: str, reason: str, by: User) -> ControlProfile:
    """A profile of the shop's own that says what another one says, under a name of its own."""
    require(by, Act.EDIT_SHOP)
    _refuse_taken(name)
    own = None if source in CONTROLS else queries.own_control(source)
    row = ControlProfile(
        name=name, title=title.strip(), based_on=own.based_on if own else source, changes=own.changes if own else {}
    )
    return _save(row, {}, reason=reason, by=by)


@transaction.atomic
def change_control(row: ControlProfile, profile: CoreProfile, *, reason: str, by: User) -> ControlProfile:
    """Let the shop's profile say what `profile` says, its name and title too; unchanged it leaves no trace.

    Another name is refused while a machine uses the present one.
    """
    require(by, Act.EDIT_SHOP)
    now = ControlProfile.objects.select_for_update().get(pk=row.pk)
    before = _content(now)
    if profile.name != now.name:
        _refuse_taken(profile.name)
        _refuse_used(now, _("Give it another title instead; the name stays while they use it."))
    for name, problem in problems(profile):
        raise ValidationError({name: problem})
    now.name, now.title, now.changes = profile.name, profile.title.strip(), _differing(profile, CONTROLS[now.based_on])
    return _save(now, before, reason=reason, by=by)


@transaction.atomic
def take_control_file(file: ControlFile, *, reason: str, by: User, is_replacing: bool = False) -> ControlProfile:
    """The profile of a file: a new one, or what one of the shop's own says from now on where that is wanted."""
    require(by, Act.EDIT_SHOP)
    kept = ControlProfile.objects.select_for_update().filter(name=file.profile.name).first()
    if kept and not is_replacing:
        raise ValidationError(_("There is a profile “%s” already.") % kept.name)
    if kept is None:
        _refuse_taken(file.profile.name)
    row = kept or ControlProfile(name=file.profile.name)
    before = _content(kept) if kept else {}
    row.title, row.based_on = file.profile.title, file.based_on
    row.changes = _differing(file.profile, CONTROLS[file.based_on])
    return _save(row, before, reason=reason, by=by)


@transaction.atomic
def remove_control(row: ControlProfile, *, reason: str, by: User) -> None:
    """Take a profile away that no machine uses; InUse otherwise."""
    require(by, Act.EDIT_SHOP)
    now = ControlProfile.objects.select_for_update().get(pk=row.pk)
    _refuse_used(now, _("Give them another profile first."))
    change = _noted(now, _content(now), {}, reason=reason, by=by)
    now.delete()
    changes.announce(by=by)
    _tell("control_profile_removed", change, by=by)


def _save(row: ControlProfile, before: dict[str, Any], *, reason: str, by: User) -> ControlProfile:
    after = _content(row)
    names = [name for name in {**before, **after} if before.get(name) != after.get(name)]
    if before and not names:
        return row
    row.full_clean()
    row.save()
    was, now = ({name: content.get(name) for name in names} for content in (before, after))
    change = _noted(row, was if before else {}, now, reason=reason, by=by)
    changes.announce(by=by)
    _tell("control_profile_changed" if before else "control_profile_added", change, by=by)
    return row


def _content(row: ControlProfile) -> dict[str, Any]:
    """Everything that a profile says, plain, so that two of it can be compared and kept."""
    profile = queries.core_control(row)
    names = {"name": row.name, "title": row.title, "based_on": row.based_on}
    return names | {name: plain(getattr(profile, name)) for name in settings()}


def _differing(profile: CoreProfile, base: CoreProfile) -> dict[str, Any]:
    return {name: plain(getattr(profile, name)) for name in settings() if getattr(profile, name) != getattr(base, name)}


def _noted(
    row: ControlProfile, before: dict[str, Any], after: dict[str, Any], *, reason: str, by: User
) -> ControlProfileChange:
    if not reason.strip():
        raise ValidationError({"reason": _("Say why: the next one who meets this setting will want to know.")})
    change = ControlProfileChange(
        of=row.pk, profile=row.name, before=before, after=after, reason=reason.strip(), changed_by=by
    )
    change.full_clean()
    change.save()
    return change


def _tell(kind: str, change: ControlProfileChange, *, by: User) -> None:
    """The shop's chain comes last, after whoever was told wrote to the chains of jobs."""
    ledger.append(
        kind, chain=ledger.SHOP, subject=("control_profile", change.of), by=by, profile=change.profile,
        change=change.pk, before=_told(change.before), after=_told(change.after),
    )  # fmt: skip


def _told(content: dict[str, Any]) -> dict[str, Any]:
    """Settings as the ledger takes them: no binary floats, and of free text only that it changed."""
    exact = {name: Decimal(repr(value)) if isinstance(value, float) else value for name, value in content.items()}
    return exact | {name: HIDDEN for name in WORDS if name in content}


def _refuse_taken(name: str) -> None:
    if name in CONTROLS:
        raise ValidationError({"name": _("This is the name of a built-in profile: choose another one.")})
    if ControlProfile.objects.filter(name=name).exists():
        raise ValidationError({"name": _("There is a profile of this name already.")})


def _refuse_used(row: ControlProfile, mend: str) -> None:
    machines = [machine.name for machine in Machine.objects.filter(control=row.name)]
    if machines:
        used = ngettext("%(machines)s uses this profile.", "%(machines)s use this profile.", len(machines))
        raise InUse(f"{used % {'machines': ', '.join(machines)}} {mend}")
