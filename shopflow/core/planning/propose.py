"""A routing proposed from what a model says: saw, one op a setup, deburr, inspect, ship."""

from __future__ import annotations

from collections.abc import Sequence

from shopflow.core.planning.blanks.blank import BlankProposal, propose_blank
from shopflow.core.planning.blanks.cast import Cast, cast_of, still_needed
from shopflow.core.planning.blanks.cast_work import cast_blank, cast_notes
from shopflow.core.planning.clamping.limits import weight_note
from shopflow.core.planning.clampings import straight_setups
from shopflow.core.planning.given import Given
from shopflow.core.planning.hole_operations import HoleFacts
from shopflow.core.planning.needs import Need, hidden, needs_of
from shopflow.core.planning.orientations import orientations
from shopflow.core.planning.proposal import Proposal, SetupProposal
from shopflow.core.planning.related import faces_of, relations, together
from shopflow.core.planning.remarks import notes, setup_notes
from shopflow.core.planning.routing import routing
from shopflow.core.planning.sights import account
from shopflow.core.planning.slots.undercuts import side_slots
from shopflow.core.planning.tilting.planned import TiltedPlan, tilted_plan, tilted_sides
from shopflow.core.planning.tilting.tilts import tilts
from shopflow.core.solid.reading import Reading


def propose(reading: Reading, given: Given) -> Proposal:
    """Plan the part that was read: straight setups first, then tilted ones, which finished faces hold."""
    rules, cast = given.rules, cast_of(reading, given.cast) if given.cast is not None else None
    needs, there = still_needed(needs_of(reading, rules), cast)
    sides, unreached = orientations(needs, turns_over=cast is None)
    unseen = hidden(reading)
    found, out_of_reach = tilts([*unreached, *unseen])
    planned = found if rules.tilted else []
    sides, apart = together(tilted_sides(sides, planned), relations(reading, [*needs, *unseen]))
    straight, tilted = sides[: len(sides) - len(planned)], sides[len(sides) - len(planned) :]
    blank = _blank(reading, straight[0].up, given, cast)
    facts = hole_facts(reading, given, cast)
    setups = straight_setups(reading, straight, blank, facts, given, cast)
    for side in tilted:
        setups.append(_tilted_setup(tilted_plan(len(setups), side, reading, given, facts), len(setups)))
    aslant = [need for side in tilted for need in side.needs]
    left = [need for need in (*unreached, *unseen) if not any(need is one for one in aslant)]
    counted = account(reading, [side.up for side in straight], _named(reading, [*left, *there, *aslant]))
    raw_mm3 = cast.blank.volume_mm3 if cast else blank.volume_mm3
    said = [*cast_notes(needs, there, cast, rules.say), *notes(reading, setups, counted, given)]
    return Proposal(
        blank=blank,
        setups=tuple(setups),
        steps=routing(reading, blank, setups, given),
        unreached=tuple(left),
        notes=(*said, *filter(None, [weight_note(raw_mm3, given.material)])),
        part_mm3=reading.volume_mm3,
        tilts=() if rules.tilted else tuple(found),
        out_of_reach=tuple(out_of_reach),
        apart=tuple(apart),
        setup_notes=setup_notes(setups, given),
        account=counted,
    )


def _blank(reading: Reading, first_up: str, given: Given, cast: Cast | None) -> BlankProposal:
    if cast:
        return cast_blank(reading, cast)
    return propose_blank(reading.bbox_mm, reading.volume_mm3, first_up, given.rules, given.sawn_mm)


def _tilted_setup(plan: TiltedPlan, index: int) -> SetupProposal:
    return SetupProposal(
        number=index + 1,
        up=plan.stand.up,
        title=plan.title,
        machine=plan.machine,
        holding=plan.holding,
        stock=plan.stock,
        operations=plan.operations,
        needs=plan.tilt.needs,
        locating=plan.locating,
        tilted=plan,
    )


def _named(reading: Reading, unreached: Sequence[Need]) -> set[int]:
    """Faces that the plan names, and those that no straight look tells of: of holes, down whose axis a tool goes
    whatever crosses them, and of undercuts that have a cutter of their own.
    """
    of_holes = {face for hole in reading.holes for face in hole.faces}
    of_slots = {face for slot in side_slots(reading) for face in slot.faces}
    return (of_holes | of_slots).union(*(faces_of(need) for need in unreached))


def hole_facts(reading: Reading, given: Given, cast: Cast | None = None) -> HoleFacts:
    """What the file says of its holes' diameters, what a person typed of them, and which of them the blank has."""
    widths: dict[int, float] = {}
    for item in reading.pmi.items:
        is_size = item.kind == "dimension" and item.name == "diameter" and item.unit == "mm"
        if is_size and item.lower is not None and item.upper is not None:
            widths |= {face: min(item.upper - item.lower, widths.get(face, float("inf"))) for face in item.faces}
    cored = {hole.faces: wide for hole in reading.holes if cast and (wide := cast.cored_mm(hole))}
    return HoleFacts(threads=given.threads, tolerance_mm=widths, typed=tuple(given.sizes), cored=cored)
