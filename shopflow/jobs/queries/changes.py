"""What differs between two models of a part, and which steps of the plan that touches."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from shopflow.core.planning import Difference, are_other_edges, cut_from, differences, is_cut_from, is_other_box
from shopflow.core.solid import Comparison, Reading
from shopflow.jobs.models import Characteristic, Job, JobFile, Step
from shopflow.jobs.queries.clampings import looks_up
from shopflow.jobs.queries.offers import offers_in
from shopflow.records.models import Work


@dataclass(frozen=True)
class Changed:
    """One difference as the page lists it. setups: numbers of those of the plan that may cut it."""

    what: Difference
    setups: tuple[int, ...]


@dataclass(frozen=True)
class StepTouched:
    """A step of the plan that the change touches, and in words why."""

    step: Step
    why: tuple[str, ...]


@dataclass(frozen=True)
class ChangedModel:
    """What a page says of two models. items: what differs. steps: in the order of the routing."""

    items: tuple[Changed, ...]
    steps: tuple[StepTouched, ...]

    @property
    def uncut(self) -> tuple[Changed, ...]:
        """New or other places that no setup of the plan looks at."""
        return tuple(item for item in self.items if item.what.how != "gone" and not item.setups)


def other_models(job: Job) -> list[JobFile]:
    """The models that the job's present one can be compared with, newest first: those it superseded, and those of the
    part's other jobs; where several hold the same bytes, the newest."""
    rows = JobFile.objects.select_related("stored", "uploaded_by", "job__revision__part__customer", "job__reading")
    models = list(rows.filter(job__revision__part=job.part, kind=JobFile.Kind.MODEL).order_by("-pk"))
    present = next((model for model in models if model.job_id == job.pk), None)
    newest = {model.stored_id: model for model in reversed(models)}
    return [model for model in newest.values() if present and model.stored_id != present.stored_id][::-1]


def model_before(others: list[JobFile], present: JobFile | None, *, wanted: str) -> JobFile | None:
    """The one to compare with: that of the wanted id, else the newest that came before the present one, else any."""
    older = [model for model in others if present and model.pk < present.pk] or others
    return next((model for model in others if str(model.pk) == wanted), older[0] if older else None)


def comparison_in(row: Work) -> Comparison | None:
    """What a finished comparison found; None for a reading that is still waited for."""
    is_done = row.state == Work.State.DONE and row.result is not None and "shift_mm" in row.result
    return Comparison.from_json(row.result) if is_done and row.result else None


def changed_model(job: Job, found: Comparison, before: Reading, after: Reading) -> ChangedModel:
    """What differs, the setups that cut it, and every step of the plan that has to be looked at again."""
    steps = list(job.steps.select_related("setup").prefetch_related("characteristics"))
    setups = [step.setup for step in steps if step.setup]
    items = []
    for what in differences(found, before, after):
        sides = cut_from(what, before, after)
        cutting = (
            setup.number
            for setup in setups
            if (is_cut_from(what, before, after, looks_up(setup)) if setup.is_aslant else setup.up in sides)
        )
        items.append(Changed(what, tuple(sorted(cutting))))
    others = _other_sizes(before, after)
    touched = (StepTouched(step, tuple(_why(step, items, before, after, others))) for step in steps)
    return ChangedModel(tuple(items), tuple(step for step in touched if step.why))


def _why(step: Step, items: list[Changed], before: Reading, after: Reading, others: set[str]) -> Iterator[str]:
    if step.setup:
        yield from _counted(item.what for item in items if step.setup.number in item.setups)
    if step.kind in (Step.Kind.SAW, Step.Kind.MILL) and is_other_box(before, after):
        yield _("the part has another size: look at the blank")
    if step.kind == Step.Kind.DEBURR and are_other_edges(before, after):
        yield _("there are other sharp edges")
    if sizes := [row for row in step.characteristics.all() if row.name in others]:
        yield _measured(sizes)


def _other_sizes(before: Reading, after: Reading) -> set[str]:
    """Names of offered characteristics that the newer model has no more, or with another size or limits."""
    old, new = ({offer.name: offer for offer in offers_in(reading)} for reading in (before, after))
    sizes = ("nominal", "lower", "upper")
    return {
        name
        for name, offer in old.items()
        if name not in new or any(getattr(offer, size) != getattr(new[name], size) for size in sizes)
    }


def _measured(rows: list[Characteristic]) -> str:
    numbers = ", ".join(str(row.number) for row in rows)
    return ngettext(
        "balloon %(numbers)s: the newer model has another size",
        "balloons %(numbers)s: the newer model has other sizes",
        len(rows),
    ) % {"numbers": numbers}


def _counted(found: Iterable[Difference]) -> Iterator[str]:
    """ "2 holes moved", "1 face changed"."""
    for (is_hole, how), n in sorted(Counter((item.is_hole, item.how) for item in found).items(), reverse=True):
        yield _in_words(is_hole, how, n) % n


def _in_words(is_hole: bool, how: str, n: int) -> str:
    words = {
        (True, "moved"): ngettext("%d hole moved", "%d holes moved", n),
        (True, "changed"): ngettext("%d hole changed", "%d holes changed", n),
        (True, "added"): ngettext("%d hole added", "%d holes added", n),
        (True, "gone"): ngettext("%d hole gone", "%d holes gone", n),
        (False, "moved"): ngettext("%d face moved", "%d faces moved", n),
        (False, "changed"): ngettext("%d face changed", "%d faces changed", n),
        (False, "added"): ngettext("%d face added", "%d faces added", n),
        (False, "gone"): ngettext("%d face gone", "%d faces gone", n),
    }
    return words[is_hole, how]
