"""What jobs/saw_list.html shows: every blank that waits for the saw, bar by bar."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from shopflow.core.measure import Measure
from shopflow.jobs import queries
from shopflow.jobs.forms.stock import SawnForm
from shopflow.jobs.models import BarPick, Job, Stage, Step
from shopflow.people.access import Act, may
from shopflow.people.models import User
from shopflow.shop.fields import millimetres
from shopflow.shop.models import StockBar

WIDE = 1000.0
"""Of the drawing of a bar, in units of its own."""
MOST_DRAWN = 60
"""Pieces of one job that are drawn one by one; more are drawn as one block."""


@dataclass(frozen=True)
class Mark:
    """A piece in the drawing of a bar. fill: "a" and "b" by turns of the jobs, "stub", "left"."""

    at: float
    wide: float
    fill: str


@dataclass(frozen=True)
class CutRow:
    """What one job wants of each bar of a card. wide: of a plate, which is sawn to width as well."""

    pick: BarPick
    each: int
    long: Measure | None
    wide: Measure | None
    fill: str

    @property
    def job(self) -> Job:
        return self.pick.job


@dataclass(frozen=True)
class BarCard:
    """Bars that are cut alike, with all that is cut of them in order. left: of each; too_short: the bar does not give
    what is reserved of it, since somebody changed the bar or a rule."""

    rows: tuple[CutRow, ...]
    marks: tuple[Mark, ...]
    left_mm: float
    is_too_short: bool
    form: SawnForm | None

    @property
    def first(self) -> BarPick:
        return self.rows[0].pick

    @property
    def bar(self) -> StockBar:
        return self.first.bar

    @property
    def due_on(self) -> date:
        return min(row.job.due_on for row in self.rows)


@dataclass(frozen=True)
class Kind:
    """Bars of one material and section, which are fetched and clamped together."""

    name: str
    cards: tuple[BarCard, ...]


def context(user: User, *, refused: SawnForm | None = None, refused_pick: int = 0) -> dict[str, Any]:
    """refused: the form of one card as it was typed, where it was wrong."""
    rules, may_saw = queries.saw_rules(), may(user, Act.RUN)
    kinds: dict[str, list[BarCard]] = {}
    lines = sorted(queries.lines_of(queries.reserved()), key=_order)
    together = queries.laid_together(rules, lines) if may(user, Act.PLAN) else []
    for line in lines:
        card = _card(line, rules, user if may_saw else None)
        if refused is not None and line[0].pk == refused_pick:
            card = BarCard(card.rows, card.marks, card.left_mm, card.is_too_short, refused)
        kinds.setdefault(_kind(line[0].bar), []).append(card)
    return {
        "kinds": [Kind(name, tuple(cards)) for name, cards in kinds.items()],
        "now": timezone.now(),
        "together": together,
        "to_be_bought": _to_be_bought(),
        "without_bars": _without_bars(),
        "crumbs": [(reverse("shop:rack"), _("Rack"))],
    }


def _order(line: Sequence[BarPick]) -> tuple[object, ...]:
    """What the floor waits for first, then by the day due."""
    on_floor = any(pick.job.stage == Stage.FLOOR for pick in line)
    return not on_floor, min(pick.job.due_on for pick in line), line[0].bar.number, line[0].pk


def _kind(bar: StockBar) -> str:
    sizes = " × ".join(str(size) for size in (bar.thickness, bar.width) if size)
    return f"{bar.material}, {bar.get_shape_display()} {sizes}"


def _card(line: Sequence[BarPick], rules: queries.SawRules, user: User | None) -> BarCard:
    left = queries.left_of(line, rules)
    keeps = left is not None and left >= rules.sawing.least_remnant_mm
    rows = tuple(_row(pick, "ab"[place % 2]) for place, pick in enumerate(line))
    form = SawnForm(unit=user.units, initial={"left": line[-1].left}, auto_id=f"bar-{line[0].pk}-%s") if user else None
    return BarCard(rows, tuple(_marks(line, rules)), (left or 0.0) if keeps else 0.0, left is None, form)


def _row(pick: BarPick, fill: str) -> CutRow:
    sizes = (pick.blank_x, pick.blank_y, pick.blank_z)
    is_plate = pick.bar.shape == StockBar.Shape.PLATE
    wide = sizes[3 - pick.along - pick.thick] if is_plate else None
    return CutRow(pick, -(-pick.pieces // pick.bars), sizes[pick.along], wide, fill)


def _marks(line: Sequence[BarPick], rules: queries.SawRules) -> list[Mark]:
    """Stub, pieces and what is left, to scale along the bar; a kerf is the gap between two."""
    bar = line[0].bar
    kerf, stub, unit = rules.kerf_of(bar), rules.stub_of(bar), WIDE / millimetres(bar.length)
    marks, at = ([Mark(0.0, stub * unit, "stub")] if stub else []), stub
    for place, pick in enumerate(line):
        cuts = queries.cuts_of(pick, kerf)
        pieces = [cuts.piece_mm] * cuts.count if cuts.count <= MOST_DRAWN else [cuts.used_mm(kerf) - kerf]
        for long in pieces:
            marks.append(Mark(at * unit, long * unit, "ab"[place % 2]))
            at += long + kerf
    if at * unit < WIDE:
        marks.append(Mark(at * unit, WIDE - at * unit, "left"))
    return [mark for mark in marks if mark.at < WIDE]


def _to_be_bought() -> list[BarPick]:
    rows = BarPick.objects.filter(to_buy=True, sawn_at=None).exclude(job__stage=Stage.CLOSED)
    return list(rows.select_related("bar__material", "job__revision__part").order_by("job__due_on", "pk"))


def _without_bars() -> list[Job]:
    """Jobs past their plan that are sawn and have no bars: nobody picked any, and the customer sends none."""
    rows = Job.objects.filter(stage__in=(Stage.REVIEW, Stage.RELEASE), steps__kind=Step.Kind.SAW)
    return list(rows.filter(bar_picks=None, supplied=None).select_related("revision__part").distinct())
