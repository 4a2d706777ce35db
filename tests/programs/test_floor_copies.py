import dataclasses
import re

import numpy as np
import pytest
from django.core.exceptions import PermissionDenied

from shopflow.core import nc
from shopflow.core.errors import NotPossible
from shopflow.core.nc.writing import PutStop
from shopflow.programs import actions, queries
from shopflow.shop.models import Tool
from tests.programs.objects import a_program, sign, upload


@pytest.fixture
def signed(job, owner):
    revision = upload(job, a_program(depth=12), by=owner)
    sign(revision, by=owner, printed_name="R. Eviewer")
    return revision


def read(data):
    return nc.read(data, control=nc.CONTROLS["calculator"])


def same_motions(one, two):
    names = [field.name for field in dataclasses.fields(one.motions) if field.name != "line"]
    return all(
        np.array_equal(getattr(one.motions, name), getattr(two.motions, name), equal_nan=name in FLOATS)
        for name in names
    )


FLOATS = ("start", "end", "centre", "turn_deg", "feed_mm_min", "dwell_s", "rpm")


def test_a_floor_copy_moves_exactly_as_what_was_signed(signed, owner):
    copy = actions.floor_copy(signed, by=owner)
    assert same_motions(read(queries.content(signed)), read(copy))


def test_a_floor_copy_with_a_stop_moves_exactly_as_what_was_signed(signed, owner):
    copy = actions.floor_copy(signed, by=owner, stops=[PutStop(12, "turn the part over")])
    assert same_motions(read(queries.content(signed)), read(copy))
    assert [stop.text for stop in read(copy).stops] == ["TURN THE PART OVER"]


@pytest.mark.parametrize(
    "said",
    ["JOB", "BP-1140 REV C", "SETUP 1 G54", "TOP, BACK LEFT CORNER", "REVISION 1", "UNITS MM", "R. EVIEWER",
     "T1 ROUGHING MILL STICKOUT AT LEAST 35 MM", "T2 JOBBER DRILL STICKOUT AT LEAST 70 MM",
     "T1 GAUGE LENGTH AS REVIEWED 95.0 MM", "T2 GAUGE LENGTH AS REVIEWED NOT KNOWN: NO HOLDER",
     "MEASURE ACTUAL LENGTHS AT THE MACHINE"],
)  # fmt: skip
def test_the_header_of_a_floor_copy_says(signed, owner, said):
    text = actions.floor_copy(signed, by=owner).decode("ascii")
    head = " ".join(re.findall(r"\(([^)]*)\)", text))
    assert said in head


def test_the_header_of_a_floor_copy_holds_the_hash_of_the_signed_bytes(signed, owner):
    text = actions.floor_copy(signed, by=owner).decode("ascii")
    assert signed.stored.sha256.upper() in re.sub(r"[^0-9A-F]", "", text.partition("SHA-256")[2])


def test_an_unsigned_program_has_no_floor_copy(job, owner):
    with pytest.raises(NotPossible, match="not signed off"):
        actions.floor_copy(upload(job, by=owner), by=owner)


def test_a_lapsed_program_has_no_floor_copy(signed, owner):
    Tool.objects.filter(number=1).update(diameter="8 mm")
    with pytest.raises(NotPossible, match="diameter"):
        actions.floor_copy(signed, by=owner)


def test_a_machinist_makes_no_floor_copy(signed, machinist):
    with pytest.raises(PermissionDenied):
        actions.floor_copy(signed, by=machinist)


@pytest.fixture
def with_two_tools(job, owner):
    revision = upload(job, a_program(depth=12), by=owner, name="two tools")
    sign(revision, by=owner)
    return revision


def test_a_prove_out_copy_stops_before_each_further_tool_and_moves_as_what_was_signed(with_two_tools, owner):
    copy = read(actions.prove_out_copy(with_two_tools, by=owner))
    assert [(stop.kind, stop.text) for stop in copy.stops] == [("M01", "PROVE OUT T2")]
    assert same_motions(read(queries.content(with_two_tools)), copy)


def test_a_program_of_one_tool_has_no_prove_out_copy(job, owner):
    revision = upload(job, by=owner)
    sign(revision, by=owner)
    assert actions.prove_out_copy(revision, by=owner) is None


def machine_wants(job, **rules):
    """Change how the machine of the plan wants its files."""
    machine = job.setups.first().machine
    for name, value in rules.items():
        setattr(machine, name, value)
    machine.full_clean()
    machine.save()


def test_a_floor_copy_is_written_and_named_as_its_machine_wants_it(signed, owner):
    machine_wants(signed.program.job, line_ends="lf", percent_signs=False, name_length=40, name_ending="eia")
    assert b"\r" not in actions.floor_copy(signed, by=owner)
    assert actions.copy_name(signed, by=owner).endswith(".eia")


def test_a_copy_that_its_machine_cannot_hold_is_not_made(signed, owner):
    machine_wants(signed.program.job, memory_bytes=100)
    with pytest.raises(NotPossible, match="the machine takes 100"):
        actions.floor_copy(signed, by=owner)


def test_how_a_machine_wants_its_files_is_no_part_of_what_was_signed(signed, owner):
    machine_wants(signed.program.job, line_ends="lf", comment_length=30)
    assert queries.sign_off_standing(queries.fresh(signed)).valid
