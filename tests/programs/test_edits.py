import pytest

from shopflow.core import nc
from shopflow.core.errors import NotPossible
from shopflow.jobs.models import Touch
from shopflow.programs import actions, queries
from shopflow.programs.editing import Edit
from shopflow.records import ledger
from shopflow.records.models import Work
from shopflow.shop.actions import change_house_rule
from shopflow.shop.models import Tool
from tests.programs.objects import DRILL, END, GOOD, HEAD, MILL, a_planned_job, a_program, again, review, upload

CYCLE = (
    "T2 M6\nG54 G0 X10. Y10. S1200 M3\nG43 H2 Z50. M8\n"
    "G98 G81 X10. Y10. Z-21. R2. F120.\nX30.\nX50.\nG80\nG0 Z50. M9\nM5\n"
)
TWO_SIDES = (HEAD + MILL + MILL.replace("G54", "G55").replace("X40.", "X30.") + END).encode()


@pytest.fixture
def plunging(job, owner):
    return upload(job, (HEAD + MILL + CYCLE + END).encode(), by=owner)


def edits_of(revision):
    return queries.Reviewed(revision).edits


def put_in(edit):
    return [text for sign, _, text in edit["changes"] if sign == "in"]


def test_a_plunge_that_is_too_deep_is_proposed_as_pecks(plunging):
    (edit,) = edits_of(plunging)
    assert (edit["kind"], put_in(edit)) == ("peck", ["G98 G83 X10. Y10. Z-21. R2. F120. Q6.0"])


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
        plunging, [edits_of(plunging)[0]["id"]], by=owner, own=[Edit("stop", 11, value="clear the chips")]
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
        actions.take_edits(plunging, [], by=owner, own=[Edit("stop", 8, value="look")])


def test_nothing_marked_is_refused_in_a_sentence(plunging, owner):
    with pytest.raises(NotPossible, match="Mark the edits"):
        actions.take_edits(plunging, [], by=owner)


def test_a_missing_stop_is_proposed_where_the_spindle_is_off_already(owner):
    job = a_planned_job(owner, setups=2)
    Touch.objects.create(setup=job.setups.get(number=1), reason="wipe the vise")
    revision = upload(job, TWO_SIDES, by=owner)
    (edit,) = edits_of(revision)
    assert "(WIPE THE VISE)" in put_in(edit) and "M00" in put_in(edit)
    assert not [text for text in put_in(edit) if "M03" in text]


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
    assert [finding for finding in queries.findings(revision) if finding.code != "planned-not-used"] == []


DRY = HEAD + MILL + CYCLE.replace(" M8", "").replace("G98 G81", "G98 G83 Q3.") + END


def one_edit(job, owner, text):
    (edit,) = edits_of(upload(job, text.encode(), by=owner))
    return edit


def test_a_tool_that_cuts_dry_is_proposed_coolant(job, owner):
    edit = one_edit(job, owner, DRY)
    assert (edit["kind"], edit["tool"], put_in(edit)) == ("coolant", 2, ["M08", "M09"])


def test_the_length_offset_of_another_tool_is_proposed_its_own(job, owner):
    edit = one_edit(job, owner, HEAD + MILL.replace("G43 H1", "G43 H2") + END)
    assert (edit["kind"], put_in(edit)) == ("length-offset", ["G43 H1 Z50. M8"])


def test_a_speed_over_the_machine_is_proposed_its_limit_with_the_feeds_in_step(job, owner):
    edit = one_edit(job, owner, HEAD + MILL.replace("S4000", "S16000") + END)
    assert put_in(edit) == ["G54 G0 X0. Y0. S8000 M3", "G1 Z-2. F100.", "X40. F300."]


def test_a_speed_over_machine_and_tool_is_proposed_once_at_the_lower_of_the_two(job, owner):
    Tool.objects.filter(number=1).update(max_rpm=6000)
    revision = upload(job, (HEAD + MILL.replace("S4000", "S16000") + END).encode(), by=owner)
    (edit,) = edits_of(revision)
    assert edit["value"] == "6000"
    mended = {finding.key for finding in queries.findings(revision) if finding.is_must_fix}
    assert {edit["finding"], *edit["also"]} == mended and len(mended) == 2


def test_a_feed_over_the_machine_is_proposed_its_limit(job, owner):
    edit = one_edit(job, owner, HEAD + MILL.replace("F600.", "F12000.") + END)
    assert (edit["kind"], put_in(edit)) == ("feed-limit", ["X40. F10000."])


def test_numbers_beyond_the_carousel_are_proposed_new_ones_all_in_one_edit(job, owner):
    text = (HEAD + MILL + DRILL.format(depth=3) + END).replace("T1", "T31").replace("H1", "H31")
    revision = upload(job, text.replace("T2", "T32").replace("H2", "H32").encode(), by=owner)
    (edit,) = edits_of(revision)
    assert (edit["kind"], edit["value"]) == ("renumber", "31=1, 32=2")


def test_renumbering_keeps_to_the_house_rule_that_puts_h_beside_t(job, owner):
    change_house_rule("length_offset_shift", text="20", reason="one row for lengths", by=owner)
    edit = one_edit(job, owner, (HEAD + MILL + END).replace("T1", "T31").replace("H1", "H51"))
    assert put_in(edit) == ["T1 M6", "G43 H21 Z50. M8"]


def test_several_edits_of_many_kinds_make_one_revision(job, owner):
    text = HEAD + MILL.replace("G43 H1", "G43 H2").replace("S4000", "S16000") + CYCLE.replace(" M8", "") + END
    revision = upload(job, text.encode(), by=owner)
    made = actions.take_edits(revision, [edit["id"] for edit in edits_of(revision)], by=owner,
                              own=[Edit("renumber", tool=2, value="12")])  # fmt: skip
    program = nc.read(queries.content(made), control=nc.CONTROLS["calculator"])
    assert program.tools == (1, 12)
    assert {83} == set(program.motions.cycle[program.motions.cycle != 0].tolist())
    assert queries.content(made).count(b"M08") == 1 and b"S8000" in queries.content(made)


@pytest.mark.parametrize(
    ("own", "says"),
    [
        ([Edit("feed", tool=1, value="0.5"), Edit("feed-limit", tool=1, value="300")], "different things about T1"),
        ([Edit("remove", 9, value="9"), Edit("stop", 9, value="look")], "Lines 9 to 9 are to go"),
    ],
)
def test_edits_that_contradict_each_other_are_refused(plunging, owner, own, says):
    with pytest.raises(NotPossible, match=says):
        actions.take_edits(plunging, [], by=owner, own=own)


def test_the_effect_of_edits_together_is_told_before_they_are_taken(plunging, owner):
    seen = queries.Reviewed(plunging)
    halved = [Edit("feed", tool=1, value="0.5"), Edit("feed", tool=2, value="0.5")]
    told = actions.ask_trial(seen, halved, together=True, by=owner).result["effect"]
    assert told["counts"] == {"feeds": 3}
    assert told["slower"] > 0 and told["reach"] == []
    assert told["machine"] == "the small mill"


@pytest.fixture
def beyond(job, owner):
    """A program whose T31 has no pocket, and no place in the crib."""
    return upload(job, (HEAD + MILL + END).replace("T1", "T31").replace("H1", "H31").encode(), by=owner)


def warned(revision):
    seen = queries.Reviewed(revision)
    return [text for texts in queries.warnings_of(seen.edits, seen.inputs).values() for text in texts]


def renumbered(revision, old, new, by):
    return actions.take_edits(revision, [], by=by, own=[Edit("renumber", tool=old, value=str(new))])


def test_a_new_number_of_a_tool_that_the_crib_does_not_know_is_told(beyond):
    assert warned(beyond) == [
        "T31 is not in the crib. T1 is a 10 mm flat end mill there: see that it is the tool meant."
    ]


def test_a_number_that_the_crib_does_not_have_is_told(beyond):
    Tool.objects.filter(number=1).update(number=7)
    assert warned(beyond) == ["T1 is not in the crib: enter it before the new revision is reviewed."]


def test_a_number_that_the_crib_gives_to_another_kind_of_tool_is_refused(plunging, owner):
    Tool.objects.filter(number=1).update(number=5)
    with pytest.raises(NotPossible, match="T2 is a 6 mm drill in the crib, and T5 a 10 mm flat end mill"):
        renumbered(plunging, 2, 5, owner)


def test_a_number_of_the_same_kind_of_tool_is_taken(beyond, owner):
    mill = Tool.objects.get(number=1)
    mill.pk, mill.number, mill.name = None, 31, "the other one"
    mill.save()
    assert queries.content(renumbered(queries.fresh(beyond), 31, 1, owner)).count(b"T1 M6") == 1


def test_a_number_beyond_the_carousel_is_refused(plunging, owner):
    with pytest.raises(NotPossible, match="T40 has no pocket: the carousel of the machine has 20"):
        renumbered(plunging, 2, 40, owner)


def test_the_page_warns_of_numbers_beside_the_edit(client, beyond, owner):
    client.force_login(owner)
    assert "see that it is the tool meant" in client.get(beyond.get_absolute_url()).content.decode()


def given_up(revision, by):
    """A trial whose worker was lost at each try."""
    seen = queries.Reviewed(revision)
    row = actions.ask_trial(seen, [Edit("feed", tool=2, value="100")], together=False, by=by)
    Work.objects.filter(pk=row.pk).update(state=Work.State.FAILED, attempts=3, attempts_allowed=3, error="lost")
    return lambda **asked: actions.ask_trial(seen, [Edit("feed", tool=2, value="100")], together=False, by=by, **asked)


def test_a_trial_that_was_given_up_is_tried_again_when_a_person_asks(plunging, owner):
    assert given_up(plunging, owner)(anew=True).state == Work.State.DONE


def test_a_trial_that_was_given_up_stays_so_while_only_the_page_asks(plunging, owner):
    assert given_up(plunging, owner)().state == Work.State.FAILED


def test_where_two_persons_sign_whoever_took_the_edits_does_not(plunging, owner):
    change_house_rule(queries.TWO_PERSONS, text="1", reason="two see more", by=owner)
    made = review(actions.take_edits(plunging, [edits_of(plunging)[0]["id"]], by=owner))
    assert "two persons" in queries.why_not(queries.Reviewed(queries.fresh(made)), by=owner)
