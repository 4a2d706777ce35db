"""Faults planted in programs that are clean without them: found at their line with their weight, and nothing else.

Facts of the trade beside them are common practice, no source, unless the finding's own basis says more.
"""

from dataclasses import dataclass, replace

import pytest

from shopflow.core import solid
from shopflow.core.review import OnHand, catalogue
from shopflow.core.review.whole import review_whole
from tests.core.review.faults.pieces import PIECES
from tests.core.review.faults.planting import BENIGN, FAULTS, made
from tests.core.solid import parts

MEMORY = 800_000
"""Bytes of columns: 0.3 to 0.4 mm on these parts."""
REACH = 0.95


@pytest.fixture(scope="module")
def readings(tmp_path_factory):
    folder = tmp_path_factory.mktemp("pieces")
    return {
        piece.name: solid.read(parts.write(piece.shape(), folder / f"{piece.name}.step"), deflection_mm=0.01)
        for piece in PIECES
    }


def found_in(piece, edits, readings, on_hand=None):
    program = made(piece, edits)
    done = review_whole(
        program.text.encode(), replace(piece.said, on_hand=on_hand or OnHand()), readings[piece.name], memory=MEMORY
    )
    return done.findings, program.lines


@dataclass(frozen=True)
class Outcome:
    """is_found: at the right line with the right weight. false: must-fix findings that the fault does not explain."""

    is_found: bool
    false: tuple[str, ...]
    said: tuple[str, ...]


@pytest.fixture(scope="module")
def outcomes(readings):
    return {number: outcome(fault, readings) for number, fault in enumerate(FAULTS)}


def outcome(fault, readings):
    found, lines = found_in(fault.piece, fault.edits, readings, fault.on_hand)
    wanted = {line for tag in fault.at for line in lines[tag]}
    hits = [one for one in found if one.code == fault.code and one.weight == fault.weight and wanted & set(one.lines)]
    explained = {fault.code} | fault.also
    false = [f"{one.code} {one.lines}" for one in found if one.weight == "must-fix" and one.code not in explained]
    said = tuple(f"{one.weight} {one.code} {one.lines[:4]}: {one.message}" for one in found)
    return Outcome(bool(hits), tuple(false), said)


def test_there_are_forty_faults_of_twenty_five_kinds_over_four_parts():
    assert len(FAULTS) >= 40 and len({fault.kind for fault in FAULTS}) >= 25
    assert {fault.piece.name for fault in FAULTS} == {piece.name for piece in PIECES} and len(PIECES) == 4
    assert len(BENIGN) >= 12


def test_the_weights_are_those_of_the_catalogue():
    known = {entry.code: entry.weights for entry in catalogue.CATALOGUE} | {"unread-word": "must-fix"}
    assert all(fault.weight in known[fault.code].split(", ") for fault in FAULTS)


def test_faults_are_found_at_their_line_with_their_weight(outcomes):
    missed = [FAULTS[number] for number, one in outcomes.items() if not one.is_found]
    false = [one for outcome in outcomes.values() for one in outcome.false]
    print(f"found {len(FAULTS) - len(missed)}, missed {len(missed)}, false must-fix {len(false)}")  # noqa: T201
    for fault in missed:
        print("missed:", fault.piece.name, fault.kind, fault.code, fault.edits)  # noqa: T201
    assert len(missed) <= (1.0 - REACH) * len(FAULTS), [(fault.piece.name, fault.kind) for fault in missed]


def test_no_must_fix_stands_beside_a_fault_that_does_not_explain_it(outcomes):
    assert {FAULTS[number].kind: one.false for number, one in outcomes.items() if one.false} == {}


@pytest.mark.parametrize("piece", PIECES, ids=lambda piece: piece.name)
def test_a_clean_program_has_no_finding(piece, readings):
    found, _ = found_in(piece, {}, readings)
    assert [(one.weight, one.code, one.lines, one.message) for one in found] == []


@pytest.mark.parametrize("change", BENIGN, ids=lambda change: change.kind)
def test_a_change_that_hurts_nobody_has_no_finding(change, readings):
    found, _ = found_in(change.piece, change.edits, readings, change.on_hand)
    assert [(one.weight, one.code, one.lines, one.message) for one in found] == []
