"""Picking what the blanks are sawn from, sawing it, and what customers supply or approve instead."""

from __future__ import annotations

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from shopflow.core.errors import NotPossible
from shopflow.core.planning import Proposal
from shopflow.jobs import queries
from shopflow.jobs.actions import shared_bars
from shopflow.jobs.actions.intake import receive_material
from shopflow.jobs.actions.lengths import typed_length
from shopflow.jobs.actions.locked import job_off_the_floor, open_job
from shopflow.jobs.actions.sawing import locked_pick
from shopflow.jobs.models import BarPick, Job, Setup, Stage, Step, SuppliedBlanks
from shopflow.people.access import Act, require
from shopflow.people.models import User
from shopflow.records import ledger
from shopflow.shop import changes, rack_actions
from shopflow.shop.models import StockBar

LONGEST_HEAT = Job._meta.get_field("heat_number").max_length or 60


@transaction.atomic
def take_stock(job: Job, key: str, *, by: User) -> list[BarPick]:
    """Reserve what an option of the page names, in place of what was reserved before; sawn bars stay as they are.

    Raises NotPossible where the rack or the plan changed since and the option is not there any more.
    """
    require(by, Act.PLAN)
    now = job_off_the_floor(job)
    shared_bars.lock_bars(now.material_id)
    if now.bar_picks.exclude(sawn_at=None).exists():
        raise NotPossible(_("Bars are sawn for this job already. What is still to be sawn can be given back."))
    choices = queries.stock_choices(now, queries.proposal_of(now, units=by.units))
    chosen = next((choice for choice in choices if choice.key == key), None)
    if chosen is None:
        raise NotPossible(_("The rack or the plan changed meanwhile. Look at the list again and choose."))
    before = queries.picks_of(now)
    shared_bars.let_go(now, units=by.units)
    picks = _reserve(now, chosen, by=by)
    ledger.append(
        "stock_picked", chain=now.chain, subject=("job", now.pk), by=by, bars=[[p.bar_id, p.bars] for p in picks]
    )
    _note_heats(now, before, by=by)
    refresh_blanks(now, queries.proposal_of(now, units=by.units), units=by.units)
    changes.announce(by=by, jobs=[now.pk])
    return picks


def _reserve(job: Job, chosen: queries.StockChoice, *, by: User) -> list[BarPick]:
    """What it names: whole bars, lengths of bars that others have begun on, bars to be bought."""
    option, picks = chosen.option, []
    rests = {rest.key: rest for rest in chosen.rests}
    for pick in option.picks:
        rest = rests.get(pick.key)
        bar = rest.row if rest else StockBar.objects.get(number=pick.key)
        row = _pick(job, bar, pick.bars, pick.bars * pick.pieces, chosen, units=by.units)
        if rest:
            shared_bars.join(row, rest.line, by=by)
        else:
            shared_bars.reckon([row], units=by.units)
        picks.append(row)
    if option.to_buy:
        bar = StockBar.objects.get(number=option.buy)
        picks.append(_pick(job, bar, option.to_buy, option.missing, chosen, units=by.units, to_buy=True))
    return picks


def _pick(
    job: Job, bar: StockBar, bars: int, pieces: int, chosen: queries.StockChoice, *, units: str, to_buy: bool = False
) -> BarPick:
    way = chosen.option.way
    sizes = (typed_length(size, units) for size in way.size_mm)
    return BarPick.objects.create(
        job=job,
        bar=bar,
        bars=bars,
        pieces=pieces,
        along=way.along,
        thick=way.thick,
        to_buy=to_buy,
        **dict(zip(("blank_x", "blank_y", "blank_z"), sizes, strict=True)),
    )


@transaction.atomic
def give_back(job: Job, *, by: User) -> None:
    """Let other jobs have what is reserved and not sawn."""
    require(by, Act.PLAN)
    now = open_job(job)
    shared_bars.lock_bars(now.material_id)
    before = queries.picks_of(now)
    gone = shared_bars.let_go(now, units=by.units)
    if gone:
        ledger.append("stock_given_back", chain=now.chain, subject=("job", now.pk), by=by, picks=len(gone))
        if now.stage != Stage.FLOOR:
            _note_heats(now, before, by=by)
            refresh_blanks(now, queries.proposal_of(now, units=by.units), units=by.units)
        changes.announce(by=by, jobs=[now.pk])


def _are_here(picks: list[BarPick]) -> bool:
    return bool(picks) and not any(pick.to_buy for pick in picks)


def _note_heats(job: Job, before: list[BarPick], *, by: User) -> None:
    """The material is here once every bar is, and no longer once its bars are not. What a person typed stays; the page
    says where it differs. before: the picks that the job had."""
    picks = queries.picks_of(job)
    is_ours = job.heat_number in ("", heat_words(queries.heats_of(before)))
    if not _are_here(picks):
        if _are_here(before) and is_ours and job.material_received:
            _note_received(job, "", by=by, received=False)
        return
    needs = bool(job.material and job.material.needs_heat_number)
    heat = heat_words(queries.heats_of(picks)) if is_ours else job.heat_number
    if heat or not needs:
        _note_received(job, heat, by=by, received=True)


def _note_received(job: Job, heat_number: str, *, by: User, received: bool) -> None:
    receive_material(job, by=by, heat_number=heat_number, received=received)
    job.refresh_from_db()


def heat_words(heats: dict[str, int]) -> str:
    return ", ".join(heat for heat in heats if heat)[:LONGEST_HEAT]


@transaction.atomic
def receive_bars(pick: BarPick, *, by: User, heat_number: str, place: str = "") -> BarPick:
    """Bars that were to be bought are here: they stand on the rack, reserved, with the heat of their certificate."""
    require(by, Act.EDIT_JOB)
    job, now = locked_pick(pick)
    if not now.to_buy:
        raise NotPossible(_("These bars are on the rack already."))
    if job.material and job.material.needs_heat_number and not heat_number.strip():
        raise NotPossible(
            _("%s asks for a heat or lot number: type it as the mill certificate says it.") % job.material
        )
    before = queries.picks_of(job)
    now.bar = rack_actions.receive(now.bar, now.bars, heat_number=heat_number.strip(), place=place.strip(), by=by)
    now.to_buy = False
    now.save(update_fields=["bar", "to_buy"])
    ledger.append("stock_received", chain=job.chain, subject=("job", job.pk), by=by, bar=now.bar_id, bars=now.bars)
    shared_bars.cut_alike(now, units=by.units)
    _note_heats(job, before, by=by)
    return now


@transaction.atomic
def supply_blanks(job: Job, *, by: User, is_supplied: bool) -> None:
    """Say that the customer sends the blanks, or that the shop has them after all."""
    require(by, Act.EDIT_JOB)
    now = open_job(job)
    had = SuppliedBlanks.objects.filter(job=now).first()
    if is_supplied == bool(had):
        return
    if had and had.counted is not None:
        raise NotPossible(_("Blanks of the customer are counted in already: %d.") % had.counted)
    if had:
        had.delete()
    else:
        SuppliedBlanks.objects.create(job=now)
    ledger.append("blanks_supplied", chain=now.chain, subject=("job", now.pk), by=by, by_customer=is_supplied)


@transaction.atomic
def count_in(job: Job, counted: int, *, by: User, heat_number: str = "") -> SuppliedBlanks:
    """Count the customer's blanks when they arrive. There are no spares: fewer than ordered is a question to ask."""
    require(by, Act.EDIT_JOB)
    now = open_job(job)
    row = _supplied(now)
    row.counted, row.counted_at, row.counted_by = counted, timezone.now(), by
    row.save()
    ledger.append("blanks_counted", chain=now.chain, subject=("job", now.pk), by=by, counted=counted)
    if counted >= now.quantity:
        receive_material(now, by=by, heat_number=heat_number or now.heat_number)
    return row


@transaction.atomic
def return_drops(job: Job, *, by: User, drops: str, returned: int) -> SuppliedBlanks:
    """Note how many pieces of the customer's material went back, what, and how: spares, scrap, ends of bars."""
    require(by, Act.EDIT_JOB)
    now = open_job(job)
    if not drops.strip():
        raise NotPossible(_("Say what went back and how; “nothing was left” is an answer too."))
    row = _supplied(now)
    row.drops, row.returned, row.returned_at = drops.strip(), returned, timezone.now()
    row.save()
    ledger.append("drops_returned", chain=now.chain, subject=("job", now.pk), by=by, returned=returned)
    return row


def _supplied(job: Job) -> SuppliedBlanks:
    row = SuppliedBlanks.objects.select_for_update().filter(job=job).first()
    if row is None:
        raise NotPossible(_("Say first that the customer supplies the blanks of job %s.") % job)
    return row


def refresh_blanks(job: Job, proposal: Proposal | None, *, units: str) -> None:
    """What each setup begins with follows from the bars that were picked, where no person typed it."""
    tell_the_saw(job)
    if proposal is None:
        return
    words = stock_words(job)
    rows = queries.laid_out(proposal, list(job.setups.all()))
    for number, wanted in enumerate(proposal.setups):
        setup = rows.get(wanted.number)
        if setup is not None and wanted.stock:
            sizes = (typed_length(size, units) for size in (*wanted.stock.size_mm, wanted.stock.over_mm))
            proposed: dict[str, object] = dict(zip((*queries.SIZES, "blank_over"), sizes, strict=True))
            if number == 0:
                proposed["stock_in"] = words or wanted.holding.stock_in
                proposed["blank_round"] = _round_along(job)
            _write(setup, proposed)


def _round_along(job: Job) -> str:
    """The model's axis along the round bars that its blanks are sawn from; "" where they are of another shape."""
    found = {"XYZ"[pick.along] if pick.bar.shape == StockBar.Shape.ROUND else "" for pick in queries.picks_of(job)}
    return found.pop() if len(found) == 1 else ""


def _write(setup: Setup, proposed: dict[str, object]) -> None:
    changed = [name for name, value in proposed.items() if name not in setup.fixed and getattr(setup, name) != value]
    for name in changed:
        setattr(setup, name, proposed[name])
    if changed:
        setup.save(update_fields=changed)


def tell_the_saw(job: Job) -> None:
    """What is sawn and from which bars, as instructions of the saw's step, unless a person wrote some."""
    step = job.steps.filter(kind=Step.Kind.SAW).first()
    told = "\n".join(_for_the_saw(pick) for pick in queries.picks_of(job) if not pick.to_buy)
    if step is not None and "instructions" not in step.fixed and step.instructions != told:
        step.instructions = told
        step.save(update_fields=["instructions"])


def _for_the_saw(pick: BarPick) -> str:
    bar = pick.bar
    heat = _("heat %s") % bar.heat_number if bar.heat_number else ""
    left = _("keep what is left, %s each") % pick.left if pick.left else ""
    sizes = (pick.blank_x, pick.blank_y, pick.blank_z)
    long, wide = sizes[pick.along], sizes[3 - pick.along - pick.thick]
    size = f"{long} × {wide}" if bar.shape == StockBar.Shape.PLATE else str(long)
    said = {"pieces": pick.pieces, "long": size, "bars": pick.bars, "bar": bar}
    sawn = _("%(pieces)s blanks, %(long)s long, from %(bars)s × %(bar)s") % said
    if pick.after_id:
        sawn = _("%(pieces)s blanks, %(long)s long, from the rest of %(bars)s × %(bar)s, as the saw list has it") % said
    return "; ".join(word for word in (sawn, heat, bar.place, left) if word)


def stock_words(job: Job) -> str:
    """What the first setup begins with, as its sheet says it; "" where nothing was picked."""
    if SuppliedBlanks.objects.filter(job=job).exists():
        return _("blanks of the customer")
    pick = job.bar_picks.select_related("bar").first()
    if pick is None:
        return ""
    sizes = (pick.blank_x, pick.blank_y, pick.blank_z)
    bar, longest = pick.bar, Setup._meta.get_field("stock_in").max_length or 0
    section = " × ".join(str(size) for size in (bar.thickness, bar.width) if size)
    said = {"shape": bar.get_shape_display(), "section": section, "long": sizes[pick.along]}
    return (_("sawn from %(shape)s %(section)s, %(long)s long") % said)[:longest]
