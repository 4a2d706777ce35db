"""Parts of a program between its stops, and several programs of one file taken apart."""

import pytest
from django.core.exceptions import PermissionDenied
from django.urls import reverse

from shopflow.core.errors import NotPossible
from shopflow.programs import actions, queries
from shopflow.records import ledger
from tests.programs.objects import END, HEAD, MILL, a_planned_job, a_program, again, review, upload

STOPPED = (HEAD + MILL + "M0 (TURN IT OVER)\n" + MILL.replace("G54", "G55") + END).encode()
ONE = "O1001 (OP 10)\nG21 G17 G90 G40 G80\n" + MILL + "G53 G0 Z0.\nM98 P900\nM30\n"
TWO = ONE.replace("O1001 (OP 10)", "O1002 (OP 20)").replace("G54", "G55")
SUB = "O900 (BLOW OFF)\nG53 G0 Y0.\nM99\n"
BOTH = f"%\n{ONE}{TWO}{SUB}%\n".encode()


@pytest.fixture
def two_setups(owner):
    return a_planned_job(owner, setups=2)


@pytest.fixture
def in_one_file(two_setups, owner):
    return upload(two_setups, BOTH, by=owner)


def parts_of(revision, *also_after):
    rows = queries.parts_of(queries.Reviewed(revision), also_after)
    return [(row["first"], row["last"], row["tools"], row["work_offsets"], row["ends_with"]) for row in rows]


def setup(job, number):
    return job.setups.get(number=number)


def test_the_parts_of_a_program_end_at_its_stops(two_setups, owner):
    assert parts_of(upload(two_setups, STOPPED, by=owner)) == [
        (1, 12, [1], ["G54"], "M00 TURN IT OVER"),
        (13, 22, [1], ["G55"], "end"),
    ]


def test_the_times_of_the_parts_make_up_the_cycle(two_setups, owner):
    seen = queries.Reviewed(upload(two_setups, STOPPED, by=owner))
    assert sum(row["seconds"] for row in queries.parts_of(seen)) == pytest.approx(seen.reading["cycle_s"])


def test_a_person_ends_a_part_behind_a_line_as_well(job, owner):
    assert [row[:2] for row in parts_of(upload(job, a_program(depth=6), by=owner), 11)] == [(1, 11), (12, 20)]


def test_the_page_shows_the_parts_cut_where_a_person_asks(client, job, owner):
    revision = upload(job, a_program(depth=6), by=owner)
    client.force_login(owner)
    page = client.get(reverse("programs:parts", args=[revision.pk]), {"after": "11"}, HTTP_HX_REQUEST="true")
    assert "your cut" in page.content.decode()


def test_a_line_that_is_no_number_is_said_beside_the_field(client, job, owner):
    revision = upload(job, by=owner)
    client.force_login(owner)
    page = client.get(reverse("programs:parts", args=[revision.pk]), {"after": "11, x"})
    assert page.status_code == 422
    assert "“x” is no line number." in page.content.decode()


def test_a_file_with_one_program_lists_none(job, owner):
    assert queries.Reviewed(upload(job, by=owner)).reading["programs"] == []


def test_the_programs_of_a_file_are_listed(in_one_file):
    listed = queries.Reviewed(in_one_file).reading["programs"]
    assert [(row["number"], row["title"], row["is_called"]) for row in listed] == [
        ("O1001", "OP 10", False), ("O1002", "OP 20", False), ("O900", "BLOW OFF", True),
    ]  # fmt: skip


def test_a_program_split_off_has_its_setup_and_what_it_calls(in_one_file, two_setups, owner):
    split, _rest = actions.split_off(in_one_file, {"O1002": setup(two_setups, 2)}, by=owner)
    assert (split.program.name, [one.number for one in split.program.setups.all()]) == ("O1002", [2])
    assert queries.content(split) == f"%\n{TWO}{SUB}%\n".encode()


def test_what_stays_becomes_the_next_revision_without_the_setup_that_went(in_one_file, two_setups, owner):
    _split, rest = actions.split_off(in_one_file, {"O1002": setup(two_setups, 2)}, by=owner)
    assert (rest.program, rest.number) == (in_one_file.program, 2)
    assert [one.number for one in rest.program.setups.all()] == [1]
    assert queries.content(rest) == f"%\n{ONE}{SUB}%\n".encode()


def test_programs_split_off_are_reviewed_each_by_itself(in_one_file, two_setups, owner):
    split, rest = actions.split_off(in_one_file, {"O1002": setup(two_setups, 2)}, by=owner)
    assert queries.reading(review(split))["number"] == "O1002"
    assert queries.reading(review(rest))["number"] == "O1001"


def test_splitting_is_in_the_history_of_the_job(in_one_file, two_setups, owner):
    actions.split_off(in_one_file, {"O1002": setup(two_setups, 2)}, by=owner)
    assert ledger.rows_for(two_setups.chain).get(kind="program_split").data["numbers"] == ["O1002"]


@pytest.mark.parametrize(
    ("numbers", "says"),
    [
        ({}, "at least one"),
        ({"O900": 2}, "O900 is no main program"),
        ({"O1001": 1, "O1002": 2}, "Leave at least one"),
        ({"O1001": 2, "O1002": 2}, "the same setup"),
    ],
)
def test_a_split_that_makes_no_sense_is_refused(in_one_file, two_setups, owner, numbers, says):
    moved = {number: setup(two_setups, which) for number, which in numbers.items()}
    with pytest.raises(NotPossible, match=says):
        actions.split_off(in_one_file, moved, by=owner)
    assert two_setups.programs.count() == 1


def test_what_stays_keeps_at_least_one_setup(two_setups, owner):
    revision = upload(two_setups, BOTH, by=owner, setups=[setup(two_setups, 1)])
    with pytest.raises(NotPossible, match="What stays needs a setup"):
        actions.split_off(revision, {"O1002": setup(two_setups, 1)}, by=owner)
    assert two_setups.programs.count() == 1


def test_only_the_newest_revision_is_split(in_one_file, two_setups, owner):
    again(in_one_file, BOTH + b"\n", by=owner)
    with pytest.raises(NotPossible, match="newer revision"):
        actions.split_off(in_one_file, {"O1002": setup(two_setups, 2)}, by=owner)


def test_a_viewer_splits_nothing(in_one_file, two_setups, viewer):
    with pytest.raises(PermissionDenied):
        actions.split_off(in_one_file, {"O1002": setup(two_setups, 2)}, by=viewer)


def test_the_page_splits_by_the_setup_that_is_chosen_beside_each_number(client, in_one_file, two_setups, owner):
    client.force_login(owner)
    chosen = {"setup-O1001": "", "setup-O1002": setup(two_setups, 2).pk}
    client.post(reverse("programs:parts", args=[in_one_file.pk]), chosen)
    assert sorted(two_setups.programs.values_list("name", flat=True)) == ["1001", "O1002"]
