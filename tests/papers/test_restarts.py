"""Where a tool may start again, as a setup page says it: by the lines of the files that go to the machine."""

import pytest

from shopflow.core.review import Weight
from shopflow.floor import actions as floor
from shopflow.floor.models import FloorCopy
from shopflow.papers.restarts import rows_for
from shopflow.people.models import Role
from shopflow.programs import queries
from shopflow.records import files
from tests.people_fixtures import make_person
from tests.programs.objects import DRILL, END, HEAD, MILL, a_planned_job, accept, everyone_at_once, sign, upload

pytestmark = pytest.mark.django_db

SECOND_SIDE = "M0 (TURN)\n" + MILL.replace("G54", "G55").replace("T1 M6", "N900 T1 M6 (OTHER SIDE)")


@pytest.fixture(scope="module")
def copies(rows_of_the_file):
    """The floor copies of a program that mills and drills in setup 1, and mills in setup 2, which has G55."""
    person = everyone_at_once(make_person("somebody_who_restarts", Role.LEAD))
    job = a_planned_job(person, setups=2)
    revision = upload(job, (HEAD + MILL + DRILL.format(depth=3) + SECOND_SIDE + END).encode(), by=person)
    if any(finding.weight == Weight.DECIDE for finding in queries.findings(revision)):
        accept(revision, by=person)
    sign(revision, by=person)
    packet = floor.make_packet(job, by=person, content_hash="0" * 64)
    return {copy.use: copy for copy in packet.floor_copies.all()}


@pytest.fixture
def rows(copies, db):
    """The rows of each setup, by its number."""
    setups = copies["lot"].revision.program.setups.order_by("number")
    return {setup.number: rows_for(setup, copies["lot"], copies["prove-out"]) for setup in setups}


def line_of(copy, number):
    with files.open_file(copy.stored) as stream:
        return stream.read().decode().splitlines()[number - 1].strip()


def test_each_setup_lists_the_tools_that_start_in_its_own_work_offset(rows):
    assert {number: [row.tool for row in of_setup] for number, of_setup in rows.items()} == {1: [1, 2], 2: [1]}


def test_the_lines_are_those_of_the_copies_and_not_of_what_was_signed(rows, copies):
    for row in [*rows[1], *rows[2]]:
        assert line_of(copies["lot"], row.line) == row.text
        assert line_of(copies["prove-out"], row.prove_out_line) == row.text
    assert rows[2][0].text == "N900 T1 M6 (OTHER SIDE)"


def test_what_no_line_behind_sets_is_to_be_set_by_hand(rows):
    drill = rows[1][1]
    said = {word.text: word.by_hand for words in drill.columns for word in words}
    assert said == {
        "G54": False, "G21": True, "G17": True, "G90": True, "G94": True, "G43 H2": False, "S1200 M03": False,
        "M08": False,
    }  # fmt: skip


def test_setups_that_share_an_offset_list_all_restarts_of_their_program(copies, db):
    copy = FloorCopy.objects.get(pk=copies["lot"].pk)
    setups = list(copy.revision.program.setups.order_by("number"))
    setups[1].work_offset = setups[0].work_offset
    setups[1].save()
    assert [len(rows_for(setup, copy, None)) for setup in setups] == [3, 3]


def test_a_manual_op_has_no_restarts(copies, db):
    assert rows_for(copies["lot"].revision.program.setups.first(), None, None) == []
