import pytest

from shopflow.core import nc
from shopflow.core.errors import NotPossible
from shopflow.jobs.models import Touch
from shopflow.programs import actions, queries
from shopflow.records import ledger
from shopflow.shop.models import Tool
from tests.programs.objects import END, GOOD, HEAD, MILL, a_planned_job, a_program, again, upload

CYCLE = (
    "T2 M6\nG54 G0 X10. Y10. S1200 M3\nG43 H2 Z50. M8\n"
    "G98 G81 X10. Y10. Z-21. R2. F120.\nX30.\nX50.\nG80\nG0 Z50. M9\nM5\n"
)
TWO_SIDES = (HEAD + MILL + MILL.replace("G54", "G55").replace("X40.", "X30.") + END).encode()


@pytest.fixture
def plunging(job, owner):
    return upload(job, (HEAD + MILL + CYCLE + END).encode(), by=owner)


def edits_of(revision):
    return queries.Reviewed(revision).result["edits"]


def test_a_plunge_that_is_too_deep_is_proposed_as_pecks(plunging):
    (edit,) = edits_of(plunging)
    assert (edit["kind"], edit["after"][0][1]) == ("peck", "G98 G83 X10. Y10. Z-21. R2. F120. Q6.0")


def test_a_proposed_edit_says_what_it_costs(plunging):
    (edit,) = edits_of(plunging)
    assert edit["seconds"] > 0


def test_a_clean_program_has_no_proposed_edits(job, owner):
    assert edits_of(upload(job, by=owner)) == []


def test_a_taken_edit_makes_one_new_revision_that_is_reviewed(plunging, owner):
    made = actions.take_edits(plunging, [edits_of(plunging)[0]["id"]], by=owner)
    assert made.number == 2
    assert queries.review_of(made).work.unfinished


def test_a_taken_edit_changes_just_its_line(plunging, owner):
    made = actions.take_edits(plunging, [edits_of(plunging)[0]["id"]], by=owner)
    before, after = (queries.content(each).splitlines() for each in (plunging, made))
    assert [new for old, new in zip(before, after, strict=True) if old != new] == [
        b"G98 G83 X10. Y10. Z-21. R2. F120. Q6.0"
    ]


def test_several_edits_and_a_stop_make_one_revision(plunging, owner):
    made = actions.take_edits(
        plunging, [edits_of(plunging)[0]["id"]], by=owner, stop_after=11, stop_message="clear the chips"
    )
    program = nc.read(queries.content(made), control=nc.CONTROLS["calculator"])
    assert [stop.kind for stop in program.stops] == ["M00"]
    assert 83 in program.motions.cycle


def test_taken_edits_are_in_the_ledger(plunging, owner, job):
    actions.take_edits(plunging, [edits_of(plunging)[0]["id"]], by=owner)
    assert ledger.rows_for(job.chain).get(kind="edits_taken").data["edits"][0][0] == "peck"


def test_an_edit_that_is_no_longer_proposed_is_refused(plunging, owner):
    with pytest.raises(NotPossible, match="not proposed any more"):
        actions.take_edits(plunging, ["0" * 16], by=owner)


def test_edits_of_an_older_revision_are_refused(plunging, owner):
    edit = edits_of(plunging)[0]["id"]
    again(plunging, GOOD, by=owner)
    with pytest.raises(NotPossible, match="newer revision"):
        actions.take_edits(plunging, [edit], by=owner)


def test_a_stop_in_the_middle_of_a_cut_is_refused(plunging, owner):
    with pytest.raises(NotPossible, match="not retracted"):
        actions.take_edits(plunging, [], by=owner, stop_after=8, stop_message="look")


def test_nothing_marked_is_refused_in_a_sentence(plunging, owner):
    with pytest.raises(NotPossible, match="Mark the edits"):
        actions.take_edits(plunging, [], by=owner)


def test_a_stop_needs_a_message(plunging, owner):
    with pytest.raises(NotPossible, match="Say what the person"):
        actions.take_edits(plunging, [], by=owner, stop_after=11, stop_message=" ")


def test_a_missing_stop_is_proposed_where_the_spindle_is_off_already(owner):
    job = a_planned_job(owner, setups=2)
    Touch.objects.create(setup=job.setups.get(number=1), reason="wipe the vise")
    revision = upload(job, TWO_SIDES, by=owner)
    (edit,) = edits_of(revision)
    put_in = [text for _, text in edit["after"]]
    assert "(WIPE THE VISE)" in put_in and "M00" in put_in
    assert not [text for text in put_in if "M03" in text]


def test_a_missing_stop_after_a_tool_is_proposed_before_the_next_one(job, owner):
    mill = Tool.objects.get(number=1)
    Touch.objects.create(setup=job.setups.get(), reason="clear the chips", after_tool=mill)
    revision = upload(job, a_program(depth=6), by=owner)
    (edit,) = edits_of(revision)
    assert edit["line"] == (HEAD + MILL).count("\n")


def test_setups_that_share_an_offset_want_a_stop_between_them(owner):
    job = a_planned_job(owner, setups=2, same_offset=True)
    revision = upload(job, by=owner)
    assert "no-stop" in [finding.code for finding in queries.findings(revision)]


def test_setups_in_offsets_of_their_own_want_no_stop_between_them(owner):
    revision = upload(a_planned_job(owner, setups=2), TWO_SIDES, by=owner)
    assert queries.findings(revision) == []
