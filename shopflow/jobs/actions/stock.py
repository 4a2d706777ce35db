"""Picking what the blanks are sawn from, sawing it, and what customers supply or approve instead."""

from __future__ import annotations

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from shopflow.core.errors import NotPossible
from shopflow.core.measure import Measure
from shopflow.core.planning import Proposal
from shopflow.core.planning.stock_options import Pick
from shopflow.jobs import queries
from shopflow.jobs.actions.intake import receive_material
from shopflow.jobs.actions.lengths import typed_length
from shopflow.jobs.actions.locked import job_off_the_floor, open_job
from shopflow.jobs.models import BarPick, Job, Setup, Stage, Step, SuppliedBlanks
from shopflow.people.access import Act, require
from shopflow.people.models import User
from shopflow.records import ledger
from shopflow.shop import changes, rack_actions
from shopflow.shop.fields import millimetres
from shopflow.shop.models import StockBar

LONGEST_HEAT = Job._meta.get_field("heat_number").max_length or 60


@transaction.atomic
def take_stock(job: Job, key: str, *, by: User) -> list[BarPick]:
    """Reserve what an option of the page names, in place of what was reserved before; sawn bars stay as they are.

    Raises NotPossible where the rack or the plan changed since and the option is not there any more.
    """
    require(by, Act.PLAN)
    now = job_off_the_floor(job)
    if now.bar_picks.exclude(sawn_at=None).exists():
        raise NotPossible(_("Bars are sawn for this job already. What is still to be sawn can be given back."))
    choices = queries.stock_choices(now, queries.proposal_of(now, units=by.units))
    chosen = next((choice for choice in choices if choice.key == key), None)
    if chosen is None:
        raise NotPossible(_("The rack or the plan changed meanwhile. Look at the list again and choose."))
    heats_before = queries.heats_of(queries.picks_of(now))
    now.bar_picks.all().delete()
    option = chosen.option
    wanted = [*((pick, False) for pick in option.picks)]
    if option.to_buy:
        wanted.append((Pick(option.buy, option.to_buy, option.missing, 0.0), True))
    picks = [_pick(now, pick, chosen, is_to_buy, units=by.units) for pick, is_to_buy in wanted]
    ledger.append(
        "stock_picked", chain=now.chain, subject=("job", now.pk), by=by, bars=[[p.bar_id, p.bars] for p in picks]
    )
    _note_heats(now, heats_before, by=by)
    refresh_blanks(now, queries.proposal_of(now, units=by.units), units=by.units)
    changes.announce(by=by, jobs=[now.pk])
    return picks


def _pick(job: Job, pick: Pick, chosen: queries.StockChoice, is_to_buy: bool, *, units: str) -> BarPick:
    sizes = (typed_length(size, units) for size in chosen.option.way.size_mm)
    pieces = pick.pieces if is_to_buy else pick.bars * pick.pieces
    return BarPick.objects.create(
        job=job,
        bar=StockBar.objects.get(number=pick.key),
        bars=pick.bars,
        pieces=pieces,
        along=chosen.option.way.along,
        thick=chosen.option.way.thick,
        left=typed_length(pick.left_mm, units) if pick.left_mm else None,
        to_buy=is_to_buy,
        **dict(zip(("blank_x", "blank_y", "blank_z"), sizes, strict=True)),
    )


@transaction.atomic
def give_back(job: Job, *, by: User) -> None:
    """Let other jobs have what is reserved and not sawn."""
    require(by, Act.PLAN)
    now = open_job(job)
    count, _by_model = now.bar_picks.filter(sawn_at=None).delete()
    if count:
        ledger.append("stock_given_back", chain=now.chain, subject=("job", now.pk), by=by, picks=count)
        if now.stage != Stage.FLOOR:
            refresh_blanks(now, queries.proposal_of(now, units=by.units), units=by.units)
        changes.announce(by=by, jobs=[now.pk])


def _note_heats(job: Job, before: dict[str, int], *, by: User) -> None:
    """The material is here once every bar is. What a person typed stays; the page says where it differs."""
    picks = queries.picks_of(job)
    if not picks or any(pick.to_buy for pick in picks):
        return
    heats = heat_words(queries.heats_of(picks))
    is_ours = job.heat_number in ("", heat_words(before))
    needs = bool(job.material and job.material.needs_heat_number)
    heat = heats if is_ours else job.heat_number
    if heat or not needs:
        receive_material(job, by=by, heat_number=heat)
        job.refresh_from_db()


def heat_words(heats: dict[str, int]) -> str:
    return ", ".join(heat for heat in heats if heat)[:LONGEST_HEAT]


@transaction.atomic
def receive_bars(pick: BarPick, *, by: User, heat_number: str, place: str = "") -> BarPick:
    """Bars that were to be bought are here: they stand on the rack, reserved, with the heat of their certificate."""
    require(by, Act.EDIT_JOB)
    job, now = _locked(pick)
    if not now.to_buy:
        raise NotPossible(_("These bars are on the rack already."))
    if job.material and job.material.needs_heat_number and not heat_number.strip():
        raise NotPossible(
            _("%s asks for a heat or lot number: type it as the mill certificate says it.") % job.material
        )
    before = queries.heats_of(queries.picks_of(job))
    now.bar = rack_actions.receive(now.bar, now.bars, heat_number=heat_number.strip(), place=place.strip(), by=by)
    now.to_buy = False
    now.save(update_fields=["bar", "to_buy"])
    ledger.append("stock_received", chain=job.chain, subject=("job", job.pk), by=by, bar=now.bar_id, bars=now.bars)
    _note_heats(job, before, by=by)
    return now


@transaction.atomic
def saw(pick: BarPick, *, by: User, left: Measure | None = None, place: str = "") -> BarPick:
    """The bars were sawn: they leave the rack, and what is left of each goes back to it. left: as it was measured."""
    require(by, Act.RUN)
    job, now = _locked(pick)
    if now.is_sawn:
        raise NotPossible(_("These bars are sawn already."))
    if now.to_buy:
        raise NotPossible(_("These bars are still to be bought: note first that they are here."))
    if left and left.mm >= millimetres(now.bar.length):
        raise NotPossible(_("What is left cannot be as long as the bar, %s.") % now.bar.length)
    now.sawn_at, now.sawn_by, now.left = timezone.now(), by, left
    ledger.append(
        "bars_sawn", chain=job.chain, subject=("job", job.pk), by=by, bar=now.bar_id, bars=now.bars, pieces=now.pieces
    )
    rack_actions.take_off(now.bar, now.bars, by=by)
    if left and left.mm > 0:
        now.remnant = rack_actions.put_back(now.bar, left, now.bars, place=place.strip() or now.bar.place, by=by)
    now.save()
    return now


def _locked(pick: BarPick) -> tuple[Job, BarPick]:
    job = open_job(pick.job)
    found = BarPick.objects.select_for_update().select_related("bar").filter(pk=pick.pk).first()
    if found is None:
        raise NotPossible(_("These bars were given back meanwhile. Load the page again."))
    return job, found


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
    _tell_the_saw(job)
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


def _tell_the_saw(job: Job) -> None:
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
