"""The one table of who may do what: ACTS says which roles may do a thing; actions ask it through `require`.

What each page needs is said in `page_access`. A test walks both.
"""

from __future__ import annotations

from enum import StrEnum

from django.contrib.auth.models import AnonymousUser
from django.core.exceptions import PermissionDenied
from django.utils.translation import gettext as _

from shopflow.people.models import Role, User


class Act(StrEnum):
    OPEN = "open without logging in"
    SEE = "see the shop's work"
    EDIT_JOB = "take in and change jobs"
    HOLD = "hold and resume a job"
    PLAN = "make and approve plans"
    UPLOAD_PROGRAM = "upload programs and take edits"
    DECIDE = "decide findings"
    SIGN_OFF = "sign programs off"
    RELEASE = "release to the floor"
    RUN = "report from a station"
    KEEP_LESSON = "keep what was learned at the machine"
    READ_BACK = "send in a program from the control"
    ACCEPT_CHANGE = "accept a small change at the machine"
    JUDGE_READ_BACK = "review what came back from the control"
    MEASURE = "enter measurements"
    DISPOSE = "decide what becomes of a nonconforming piece"
    SHIP = "ship and close"
    EDIT_SHOP = "change crib, machines and materials"
    COUNT_ON_ORDER = "let plans count on a tool that is on order"
    EDIT_GAUGES = "change gauges"
    EDIT_RULES = "change house rules"
    EDIT_PEOPLE = "change people and their roles"
    WITHDRAW = "withdraw a file"


EVERYONE = frozenset(Role)
DESK = frozenset({Role.LEAD, Role.PROGRAMMER})
FLOOR = frozenset({Role.LEAD, Role.MACHINIST})

ACTS: dict[Act, frozenset[Role]] = {
    Act.OPEN: EVERYONE,
    Act.SEE: EVERYONE,
    Act.EDIT_JOB: DESK,
    Act.HOLD: EVERYONE - {Role.VIEWER},
    Act.PLAN: DESK,
    Act.UPLOAD_PROGRAM: DESK,
    Act.DECIDE: DESK | {Role.REVIEWER},
    Act.SIGN_OFF: frozenset({Role.REVIEWER}),
    Act.RELEASE: frozenset({Role.LEAD}),
    Act.RUN: FLOOR,
    Act.KEEP_LESSON: DESK | {Role.REVIEWER, Role.MACHINIST},
    Act.READ_BACK: DESK | FLOOR,
    Act.ACCEPT_CHANGE: FLOOR,
    Act.JUDGE_READ_BACK: frozenset({Role.REVIEWER}),
    Act.MEASURE: FLOOR | {Role.INSPECTOR},
    Act.DISPOSE: frozenset({Role.LEAD, Role.INSPECTOR}),
    Act.SHIP: frozenset({Role.LEAD, Role.INSPECTOR}),
    Act.EDIT_SHOP: DESK,
    Act.COUNT_ON_ORDER: frozenset({Role.LEAD}),
    Act.EDIT_GAUGES: DESK | {Role.INSPECTOR},
    Act.EDIT_RULES: frozenset({Role.LEAD}),
    Act.EDIT_PEOPLE: frozenset({Role.LEAD}),
    Act.WITHDRAW: frozenset({Role.LEAD}),
}


STATION_ACTS = frozenset(
    {
        Act.OPEN,
        Act.SEE,
        Act.HOLD,
        Act.RUN,
        Act.KEEP_LESSON,
        Act.READ_BACK,
        Act.ACCEPT_CHANGE,
        Act.MEASURE,
        Act.DISPOSE,
        Act.SHIP,
    }
)
"""What a log-in by badge and PIN may at most: four digits on a shared device sign no program off."""


def may(user: User | AnonymousUser, act: Act) -> bool:
    """Whether the person holds a role that may; an inactive person and one without a role may nothing."""
    if act is Act.OPEN:
        return True
    if getattr(user, "is_at_station", False) and act not in STATION_ACTS:
        return False
    return bool(user.is_authenticated and user.is_active and user.roles & ACTS[act])


def require(user: User | AnonymousUser, act: Act) -> None:
    """Raise PermissionDenied, naming the roles that may, unless this person may."""
    if not may(user, act):
        if getattr(user, "is_at_station", False) and act not in STATION_ACTS:
            raise PermissionDenied(
                _("To %(act)s, log in with your password: badge and PIN do not reach that far.") % {"act": act.value}
            )
        roles = ", ".join(str(role.label) for role in Role if role in ACTS[act])
        raise PermissionDenied(
            _("To %(act)s takes one of these roles: %(roles)s.") % {"act": act.value, "roles": roles}
        )
