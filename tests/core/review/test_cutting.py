"""What rules about cutting find in a program with planted faults, and in its clean twin."""

from decimal import Decimal

import numpy as np
import pytest

from shopflow.core import nc, review
from shopflow.core.cutting.time import TYPICAL_MACHINE
from shopflow.core.review import Weight, cut
from tests.core.stock import planted

PITCH = 0.4


@pytest.fixture(scope="module")
def reading(tmp_path_factory):
    return planted.model(tmp_path_factory.mktemp("planted"))


@pytest.fixture(scope="module")
def clean(reading):
    return planted.findings(planted.planted(()).text, reading, PITCH)


@pytest.fixture(scope="module")
def program():
    return planted.planted(planted.FAULTS)


@pytest.fixture(scope="module")
def faulty(reading, program):
    return planted.findings(program.text, reading, PITCH)


def test_there_are_at_least_twenty_faults_of_twelve_kinds():
    assert len(planted.FAULTS) >= 20 and len({fault.kind for fault in planted.FAULTS}) >= 12


def test_the_clean_twin_has_no_finding(clean):
    assert [(one.code, one.lines, one.message) for one in clean] == []


def test_every_planted_fault_is_found_at_its_line(faulty, program):
    missed, false = planted.judged(planted.FAULTS, faulty, program.lines)
    print(f"found {len(planted.FAULTS) - len(missed)}, missed {len(missed)}, false {len(false)}")  # noqa: T201
    assert [fault.kind for fault in missed] == []


def test_nothing_is_found_where_no_fault_was_planted(faulty, program):
    _, false = planted.judged(planted.FAULTS, faulty, program.lines)
    assert [(one.code, one.lines, one.message) for one in false] == []


def of_code(found, code):
    return [one for one in found if one.code == code]


def test_a_gouge_says_how_deep_and_over_which_limit(faulty):
    wall = next(one for one in of_code(faulty, "gouge") if one.tool == 3 and abs(one.measured - 0.2) < 0.01)
    assert (wall.weight, wall.limit, wall.unit) == (Weight.MUST_FIX, 0.05, "mm")
    assert "ISO 2768" in wall.basis and "0.4 mm apart" in wall.message


def test_an_air_cut_is_a_question(faulty):
    cuts = of_code(faulty, "air-cut")
    assert cuts and {one.weight for one in cuts} == {Weight.DECIDE}
    assert all(one.message.endswith("?") for one in cuts)


def test_a_feature_that_nobody_cuts_is_named(faulty):
    names = " ".join(one.message for one in of_code(faulty, "feature-untouched"))
    assert "hole of 5.00 mm" in names and "hole of 4.00 mm" in names and "chamfer of 1.00 mm" in names


@pytest.fixture(scope="module")
def passing(reading):
    """A rapid 0.4 mm over the part, and the program by itself."""
    near = [fault for fault in planted.FAULTS if fault.kind == "rapid 0.4 mm over the part"]
    return planted.planted(near).text


@pytest.mark.parametrize(("limit", "count"), [("0.3", 0), ("0.5", 1)])
def test_the_shop_sets_how_near_a_rapid_may_pass(reading, passing, limit, count):
    found = planted.findings(passing, reading, 1.0, changed={"rapid_clearance": Decimal(limit)}, with_model=False)
    assert len(of_code(found, "rapid-too-near")) == count
    assert all(one.basis == "this shop's house rule" for one in of_code(found, "rapid-too-near"))


def test_a_program_that_was_not_simulated_has_no_finding_about_cutting(program):
    read = nc.read(program.text.encode())
    assert review.run(read, machine=TYPICAL_MACHINE, tools=planted.TOOLS, rules=planted.RULES) == ()


def test_rows_of_one_tool_that_lie_together_are_one_cause():
    rows, tool = np.array([1, 2, 4, 20, 21]), np.zeros(30, np.int32)
    assert [group.tolist() for group in cut.one_cause(rows, tool)] == [[1, 2, 4], [20, 21]]


def test_another_tool_is_another_cause():
    tool = np.repeat(np.array([1, 2], np.int32), 5)
    assert [group.tolist() for group in cut.one_cause(np.array([4, 5]), tool)] == [[4], [5]]


def test_what_goes_through_a_whole_program_makes_no_list_of_hundreds():
    rows = np.arange(0, 5000, 10)
    groups = list(cut.one_cause(rows, np.zeros(5000, np.int32)))
    assert len(groups) <= cut.MOST_CAUSES and np.concatenate(groups).tolist() == rows.tolist()


@pytest.mark.soak
@pytest.mark.parametrize("fault", planted.FAULTS, ids=lambda fault: f"{fault.kind}, {fault.tag}")
def test_each_fault_alone_is_found_and_nothing_else(reading, fault):
    alone = planted.planted((fault,))
    missed, false = planted.judged((fault,), planted.findings(alone.text, reading, 0.2), alone.lines)
    assert (missed, [(one.code, one.lines) for one in false]) == ([], [])


@pytest.mark.soak
@pytest.mark.parametrize("pitch", [0.15, 0.3, 0.5])
def test_faults_are_found_and_the_twin_stays_clean_at_any_grid(reading, program, pitch):
    missed, false = planted.judged(planted.FAULTS, planted.findings(program.text, reading, pitch), program.lines)
    assert (missed, false) == ([], [])
    assert planted.findings(planted.planted(()).text, reading, pitch) == ()
