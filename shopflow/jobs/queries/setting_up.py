"""What a setup is held in, and the minutes that setting it up takes."""

from __future__ import annotations

from shopflow.core import planning
from shopflow.jobs.models import Setup, Stage
from shopflow.shop.models import Fixture


def held_in(setup: Setup) -> planning.Held:
    """Soft jaws or a fixture where somebody named one; else a vise where there is a grip, else clamps."""
    if setup.fixture is not None:
        return planning.Held.SOFT_JAWS if setup.fixture.kind == Fixture.Kind.JAWS else planning.Held.FIXTURE
    return planning.Held.VISE if setup.grip is not None else planning.Held.CLAMPS


def jaws_of(setup: Setup) -> planning.Jaws:
    """New ones are cut where these never held a part on the floor, and where they cannot be cut again."""
    if setup.fixture is None or setup.fixture.is_used_up:
        return planning.Jaws.NEW
    earlier = Setup.objects.filter(fixture=setup.fixture, job__stage__in=(Stage.FLOOR, Stage.CLOSED))
    return planning.Jaws.RECUT if earlier.exclude(job=setup.job_id).exists() else planning.Jaws.NEW


def setting_up_of(setup: Setup, rules: planning.PlanRules) -> tuple[planning.MinutesPart, ...]:
    """The minutes of setting up, part by part, from the tools and the workholding as the plan has them now."""
    held = held_in(setup)
    jaws = jaws_of(setup) if held is planning.Held.SOFT_JAWS else planning.Jaws.RECUT
    return planning.setting_up(len(setup.setup_tools.all()), rules, held=held, jaws=jaws, is_aslant=setup.is_aslant)
