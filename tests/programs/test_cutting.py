"""Parts of a program made programs of their own, and the ends that a person gives them."""

import pytest
from django.core.exceptions import PermissionDenied
from django.urls import reverse

from shopflow.core.errors import NotPossible
from shopflow.programs import actions, queries
from shopflow.programs.models import PartCuts
from shopflow.records import ledger
from tests.programs.objects import END, HEAD, MILL, a_planned_job, again, review, upload

SECOND = MILL.replace("G54", "G55")
STOPPED = (HEAD + MILL + "M0 (TURN IT OVER)\n" + SECOND + END).encode()
UNSTOPPED = (HEAD + MILL + SECOND + END).encode()
STOP = (HEAD + MILL).count("\n") + 1
LAST = STOPPED[: STOPPED.index(b"\nM30")].count(b"\n") + 2


@pytest.fixture
def two_setups(owner):
    return a_planned_job(owner, setups=2)


def setup(job, number):
    return job.setups.get(number=number)


def parted(revision, by, setups):
    return actions.make_programs_of_parts(revision, setups, by=by)


def ends(revision):
    return [row["last"] for row in queries.parts_of(queries.Reviewed(revision))]


@pytest.fixture
def stopped(two_setups, owner):
    return upload(two_setups, STOPPED, by=owner)


@pytest.fixture
def unstopped(two_setups, owner):
    return upload(two_setups, UNSTOPPED, by=owner)


def test_a_part_behind_a_stop_becomes_a_program_for_its_setup(stopped, two_setups, owner):
    own, rest = parted(stopped, owner, {LAST: setup(two_setups, 2)})
    assert (own.program.name, [one.number for one in own.program.setups.all()]) == ("O1002", [2])
    assert (rest.program, rest.number, [one.number for one in rest.program.setups.all()]) == (stopped.program, 2, [1])


def test_both_are_reviewed_and_make_the_motions_of_the_whole(stopped, two_setups, owner):
    count = sum(queries.reading(stopped)["motions"].values())
    own, rest = parted(stopped, owner, {LAST: setup(two_setups, 2)})
    assert [queries.reading(review(one))["number"] for one in (own, rest)] == ["O1002", "O1001"]
    assert sum(sum(queries.reading(one)["motions"].values()) for one in (own, rest)) == count


def test_parts_made_programs_are_in_the_history_of_the_job(stopped, two_setups, owner):
    parted(stopped, owner, {LAST: setup(two_setups, 2)})
    assert ledger.rows_for(two_setups.chain).get(kind="program_split").data["behind"] == [STOP]


@pytest.mark.parametrize(
    ("moved", "says"),
    [
        ({}, "at least one of the parts"),
        ({STOP: 1, LAST: 2}, "The first parts stay"),
        ({7: 2}, "cut elsewhere in the meantime"),
    ],
)
def test_parts_that_cannot_go_are_refused(stopped, two_setups, owner, moved, says):
    with pytest.raises(NotPossible, match=says):
        parted(stopped, owner, {line: setup(two_setups, number) for line, number in moved.items()})
    assert two_setups.programs.count() == 1


def test_parts_of_one_setup_that_do_not_follow_one_another_are_refused(owner):
    job = a_planned_job(owner, setups=3)
    text = HEAD + "M0\n".join([MILL, SECOND, MILL, SECOND]) + END
    revision = upload(job, text.encode(), by=owner)
    two, three = setup(job, 2), setup(job, 3)
    _first, *others = ends(revision)
    with pytest.raises(NotPossible, match="setup 2 do not follow one another"):
        parted(revision, owner, dict(zip(others, (two, three, two), strict=True)))


def test_a_part_that_depends_on_the_one_before_is_refused_with_its_line(two_setups, owner):
    text = STOPPED.replace(SECOND.encode(), b"G1 X9. F90.\nG0 Z50.\n")
    with pytest.raises(NotPossible, match=f"Line {STOP + 1} goes on from"):
        parted(upload(two_setups, text, by=owner), owner, {STOP + 4: setup(two_setups, 2)})
    assert two_setups.programs.count() == 1


def test_parts_of_an_older_revision_are_refused(stopped, two_setups, owner):
    again(stopped, STOPPED + b"\n", by=owner)
    with pytest.raises(NotPossible, match="newer revision"):
        parted(stopped, owner, {LAST: setup(two_setups, 2)})


def test_the_ends_that_a_person_gives_are_kept_with_the_revision(unstopped, owner, two_setups):
    actions.keep_cuts(unstopped, [STOP - 1], by=owner)
    assert ends(unstopped)[0] == STOP - 1
    assert ledger.rows_for(two_setups.chain).get(kind="parts_cut").data["lines"] == [STOP - 1]


def test_a_part_that_a_person_ended_becomes_a_program(unstopped, owner, two_setups):
    actions.keep_cuts(unstopped, [STOP - 1], by=owner)
    own, rest = parted(unstopped, owner, {ends(unstopped)[-1]: setup(two_setups, 2)})
    assert queries.content(rest).endswith(b"M5\nM30\n%\n")
    assert b"G55" in queries.content(own)


def test_an_empty_field_takes_the_ends_back(unstopped, owner):
    whole = ends(unstopped)
    actions.keep_cuts(unstopped, [STOP - 1], by=owner)
    actions.keep_cuts(unstopped, [], by=owner)
    assert ends(unstopped) == whole and queries.cuts_of(unstopped) is None


def test_an_end_behind_no_line_is_refused(unstopped, owner):
    with pytest.raises(NotPossible, match="has no line behind it"):
        actions.keep_cuts(unstopped, [900], by=owner)


def test_a_viewer_ends_no_parts_and_makes_no_programs(unstopped, viewer, two_setups):
    with pytest.raises(PermissionDenied):
        actions.keep_cuts(unstopped, [STOP - 1], by=viewer)
    with pytest.raises(PermissionDenied):
        parted(unstopped, viewer, {LAST: setup(two_setups, 2)})
    assert not PartCuts.objects.exists()


def test_the_page_keeps_ends_and_shows_who_gave_them(client, unstopped, owner):
    client.force_login(owner)
    url = reverse("programs:parts", args=[unstopped.pk])
    page = client.post(url, {"act": "cut", "after": str(STOP - 1)}, HTTP_HX_REQUEST="true").content.decode()
    assert "your cut" in page and f"Kept by {owner}" in page


def test_the_page_says_what_is_wrong_with_an_end(client, unstopped, owner):
    client.force_login(owner)
    page = client.post(reverse("programs:parts", args=[unstopped.pk]), {"act": "cut", "after": "900"})
    assert page.status_code == 422 and "has no line behind it" in page.content.decode()


def test_the_page_makes_programs_of_the_parts_that_have_a_setup(client, stopped, owner, two_setups):
    client.force_login(owner)
    chosen = {"act": "part", f"part-{ends(stopped)[-1]}": setup(two_setups, 2).pk}
    client.post(reverse("programs:parts", args=[stopped.pk]), chosen)
    assert sorted(two_setups.programs.values_list("name", flat=True)) == ["1001", "O1002"]
