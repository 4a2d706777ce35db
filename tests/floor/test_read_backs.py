"""A program comes back from the control: what the lot waits for, who may decide, and what becomes of it."""

from datetime import UTC, date, datetime

import pytest
from django.core.exceptions import PermissionDenied

from shopflow.core.errors import Unreadable
from shopflow.floor import actions, comparing, queries, read_back_actions, read_backs
from shopflow.floor.models import OpRun, ReadBack
from shopflow.jobs.models import Job, Step
from shopflow.people.models import User
from shopflow.programs import queries as programs
from shopflow.records import files, ledger, work
from shopflow.records.models import Work
from shopflow.shop.models import HouseRule
from shopflow.workflow.gates import close_gate, unmet
from tests.floor.objects import SETUP_CHECKS, op, passed_on
from tests.people_fixtures import make_person
from tests.programs.objects import review, sign
from tests.workflow.objects import on_floor

Handling = ReadBack.Handling


@pytest.fixture(scope="module")
def made_once(rows_of_the_file):
    """A job of one milling op on the floor, all pieces at that op, which runs."""
    owner = make_person("the_owner", password="seven brass fittings")
    job = on_floor(owner, quantity=5)
    lot = job.lots.get()
    passed_on(lot, 10, 5, owner)
    run = actions.start(lot, op(lot, 20), by=owner, compared="first lines", confirmed=SETUP_CHECKS)
    return run.pk


@pytest.fixture
def run(made_once, db):
    return OpRun.objects.select_related("lot__job", "step").get(pk=made_once)


@pytest.fixture
def owner(run):
    return User.objects.get(username="the_owner")


def the_copy(run):
    with files.open_file(queries.floor_copy_of(run.step).stored) as handle:
        return handle.read()


def sent(run, by, *changes, **more):
    data = the_copy(run)
    for old, new in changes:
        assert old in data
        data = data.replace(old, new, 1)
    return read_back_actions.send(run.lot, run.step, data, by=by, file_name="1001.nc", **more)


SLOWER = (b"F600.", b"F400.")
DEEPER = (b"Z-2.", b"Z-3.")


def count(run, by):
    return actions.count_good(queries.open_run(run.lot, run.step), 1, by=by)


def missing(run):
    return [condition.text for condition in unmet(close_gate(Job.objects.get(pk=run.lot.job_id)))]


REVIEWED = "what was changed at a control is reviewed"


def test_the_floor_copy_as_it_was_put_on_is_no_change_and_asks_for_nothing(run, machinist):
    row = sent(run, machinist)
    assert (row.handling, row.changes, read_backs.unsettled(row)) == (Handling.NONE, [], "")
    assert REVIEWED not in missing(run)


def test_what_came_back_is_kept_by_the_hash_of_its_bytes(run, machinist):
    row = sent(run, machinist, SLOWER)
    with files.open_file(row.stored) as handle:
        assert handle.read() == the_copy(run).replace(*SLOWER)


@pytest.mark.parametrize(
    ("change", "handling", "kinds"),
    [(SLOWER, Handling.ACCEPT, {"slower feed": 1}), (DEEPER, Handling.REVIEW, {"geometry": 1})],
)
def test_each_change_is_kept_with_its_lines_and_classed(run, machinist, change, handling, kinds):
    row = sent(run, machinist, change)
    assert (row.handling, row.counts) == (handling, kinds)
    ((_line, before),) = row.changes[0]["before"]
    ((_line, after),) = row.changes[0]["after"]
    assert (change[0].decode() in before, change[1].decode() in after) == (True, True)


def test_the_lot_waits_until_a_program_changed_at_the_control_was_read_back(run, machinist):
    read_back_actions.say_changed(run, by=machinist)
    with pytest.raises(actions.NotNow, match="changed at the control"):
        count(run, machinist)
    sent(run, machinist)
    assert count(run, machinist)


def test_said_again_after_a_read_back_it_asks_for_another(run, machinist):
    sent(run, machinist)
    read_back_actions.say_changed(run, by=machinist)
    assert "Send it in" in queries.count_problem(queries.open_run(run.lot, run.step))


def test_a_running_op_is_never_ended_or_kept_from_its_end_by_a_read_back(run, machinist):
    sent(run, machinist, DEEPER)
    assert queries.open_run(run.lot, run.step) is not None
    assert actions.finish(queries.open_run(run.lot, run.step), by=machinist).finished_at


def test_small_changes_accepted_with_a_note_let_the_lot_go_on(run, machinist):
    row = sent(run, machinist, SLOWER)
    with pytest.raises(actions.NotNow, match="Accept them with a note"):
        count(run, machinist)
    read_back_actions.accept(row, note="it sang in the corner", by=machinist)
    assert count(run, machinist)


def test_accepted_small_changes_still_wait_for_a_reviewer(run, machinist):
    read_back_actions.accept(sent(run, machinist, SLOWER), note="it sang", by=machinist)
    assert REVIEWED in missing(run)


def test_small_changes_are_not_accepted_without_a_note(run, machinist):
    with pytest.raises(actions.NotNow, match="why it was changed"):
        read_back_actions.accept(sent(run, machinist, SLOWER), note=" ", by=machinist)


def test_a_change_of_geometry_is_never_accepted_at_the_machine(run, machinist):
    with pytest.raises(actions.NotNow, match="waits for a reviewer"):
        read_back_actions.accept(sent(run, machinist, DEEPER), note="looks fine", by=machinist)


def test_the_lot_waits_for_the_review_of_a_change_of_geometry(run, machinist):
    sent(run, machinist, DEEPER)
    with pytest.raises(actions.NotNow, match="has to be reviewed before the rest"):
        count(run, machinist)


def test_an_op_does_not_start_again_over_a_change_that_waits_for_review(run, machinist):
    sent(run, machinist, DEEPER)
    actions.finish(queries.open_run(run.lot, run.step), by=machinist)
    with pytest.raises(actions.NotNow, match="has to be reviewed before the rest"):
        actions.start(run.lot, run.step, by=machinist, compared="first lines", confirmed=SETUP_CHECKS)


def test_pieces_split_off_wait_as_well(run, machinist, owner):
    sent(run, machinist, DEEPER)
    part = actions.split(run.lot, run.step, 2, by=owner)
    assert "has to be reviewed" in read_backs.problem(part, run.step)


def test_refused_with_a_reason_the_lot_goes_on_once_the_floor_copy_is_loaded_again(run, machinist, reviewer):
    row = read_back_actions.refuse(sent(run, machinist, DEEPER), reason="the print says 2", by=reviewer)
    assert (row.verdict, row.judged_by) == (ReadBack.Verdict.REFUSED, reviewer)
    assert REVIEWED not in missing(run)
    with pytest.raises(actions.NotNow, match="Load the floor copy again"):
        count(run, machinist)
    sent(run, machinist)
    assert count(run, machinist)


def test_a_refused_program_is_gone_with_the_run_that_it_was_loaded_for(run, machinist, owner, reviewer):
    read_back_actions.refuse(sent(run, machinist, DEEPER), reason="the print says 2", by=reviewer)
    actions.finish(run, by=machinist)
    again = actions.start(run.lot, run.step, by=owner, compared="first lines", confirmed=SETUP_CHECKS)
    assert read_backs.problem(run.lot, run.step, again) == ""


def test_it_is_not_refused_without_a_reason(run, machinist, reviewer):
    with pytest.raises(actions.NotNow, match="why it is refused"):
        read_back_actions.refuse(sent(run, machinist, DEEPER), reason="", by=reviewer)


def test_taken_it_is_the_next_revision_without_our_header_and_is_reviewed(run, machinist, reviewer):
    row = sent(run, machinist, DEEPER)
    before = programs.content(row.floor_copy.revision)
    taken = read_back_actions.take(row, by=reviewer)
    assert taken.number == row.floor_copy.revision.number + 1
    assert programs.content(taken).split() == before.replace(*DEEPER).split()
    assert programs.review_of(taken) is not None


def test_taken_the_lot_waits_until_the_new_revision_is_signed_off(run, machinist, reviewer, owner):
    taken = review(read_back_actions.take(sent(run, machinist, SLOWER), by=reviewer))
    with pytest.raises(actions.NotNow, match="Revision 2, taken from what came back, is not signed off"):
        count(run, machinist)
    sign(taken, by=owner)
    assert count(run, machinist)


def test_it_is_judged_once(run, machinist, reviewer):
    row = sent(run, machinist, DEEPER)
    read_back_actions.take(row, by=reviewer)
    with pytest.raises(actions.NotNow, match="decided about this already"):
        read_back_actions.refuse(row, reason="no", by=reviewer)


def test_no_change_leaves_nothing_to_judge(run, machinist, reviewer):
    with pytest.raises(actions.NotNow, match="nothing to decide"):
        read_back_actions.take(sent(run, machinist), by=reviewer)


@pytest.mark.parametrize("role", ["viewer", "inspector", "reviewer"])
def test_others_send_no_program_in_from_a_control(run, everybody, role):
    with pytest.raises(PermissionDenied):
        sent(run, everybody[role])


@pytest.mark.parametrize("role", ["programmer", "inspector", "viewer", "reviewer"])
def test_others_accept_no_change_at_the_machine(run, machinist, everybody, role):
    with pytest.raises(PermissionDenied):
        read_back_actions.accept(sent(run, machinist, SLOWER), note="fine", by=everybody[role])


@pytest.mark.parametrize("role", ["lead", "programmer", "machinist", "inspector", "viewer"])
def test_only_a_reviewer_judges(run, machinist, everybody, role):
    with pytest.raises(PermissionDenied):
        read_back_actions.take(sent(run, machinist, DEEPER), by=everybody[role])


def test_sent_twice_with_its_key_it_counts_once(run, machinist):
    first, again = (sent(run, machinist, SLOWER, key="a-key-of-the-page") for _ in range(2))
    assert first.pk == again.pk
    assert ReadBack.objects.count() == 1


def test_the_same_bytes_are_not_sent_in_again_while_they_wait(run, machinist):
    sent(run, machinist, SLOWER)
    with pytest.raises(actions.NotNow, match="exact bytes"):
        sent(run, machinist, SLOWER)


def test_what_is_no_program_is_refused_and_not_kept(run, machinist):
    with pytest.raises(Unreadable):
        read_back_actions.send(run.lot, run.step, b"%PDF-1.7", by=machinist)
    assert not ReadBack.objects.exists()


def test_an_op_without_a_program_takes_no_read_back(run, machinist):
    with pytest.raises(actions.NotNow, match="no floor copy"):
        read_back_actions.send(run.lot, op(run.lot, 10), the_copy(run), by=machinist)


def test_each_step_stands_in_the_ledger(run, machinist, reviewer):
    read_back_actions.say_changed(run, by=machinist)
    row = read_back_actions.accept(sent(run, machinist, SLOWER), note="sang", by=machinist)
    read_back_actions.refuse(row, reason="too slow", by=reviewer)
    kinds = [one.kind for one in ledger.rows_for(run.lot.job.chain)]
    assert kinds[-4:] == ["changed_at_control", "read_back_sent", "read_back_accepted", "read_back_refused"]
    assert ledger.verify(run.lot.job.chain) == []


@pytest.mark.parametrize(
    ("sent_on", "due"),
    [((2026, 11, 26), (2026, 11, 27)), ((2026, 11, 27), (2026, 11, 30)), ((2026, 11, 28), (2026, 11, 30))],
)
def test_small_changes_are_reviewed_by_the_next_working_day(sent_on, due, db):
    """26 November 2026 is a Thursday."""
    row = ReadBack(sent_at=datetime(*sent_on, 12, tzinfo=UTC))
    assert read_backs.review_due(row) == date(*due)


def test_a_lesson_is_kept_for_the_next_review_of_the_part(run, machinist, reviewer):
    row = sent(run, machinist, SLOWER)
    read_back_actions.take(row, by=reviewer, lesson="slower in the corner", about="part")
    (lesson,) = programs.lessons_for(row.floor_copy.revision)
    assert (lesson.text, lesson.about_words) == ("slower in the corner", "part")


def test_without_words_no_lesson_is_kept(run, machinist, reviewer):
    row = sent(run, machinist, SLOWER)
    read_back_actions.refuse(row, reason="too slow", by=reviewer, lesson=" ")
    assert programs.lessons_for(row.floor_copy.revision) == []


def test_steps_without_a_setup_ask_nothing_of_the_database(run, django_assert_num_queries):
    step = Step(job=run.lot.job, op_number=10, kind=Step.Kind.SAW)
    with django_assert_num_queries(0):
        assert read_backs.problem(run.lot, step) == ""


@pytest.fixture
def by_a_worker(monkeypatch):
    monkeypatch.setattr(comparing, "AT_ONCE_BYTES", 0)


def compared(row):
    """Do what a worker would."""
    work.run(row.work_id, comparing.run, save=read_back_actions.note_compared)
    return ReadBack.objects.get(pk=row.pk)


def test_a_long_program_is_kept_at_once_and_compared_by_a_worker(run, machinist, by_a_worker):
    row = sent(run, machinist, SLOWER)
    assert (row.handling, row.is_being_compared) == (Handling.PENDING, True)
    assert (compared(row).handling, compared(row).counts) == (Handling.ACCEPT, {"slower feed": 1})


def test_the_lot_waits_while_what_came_back_is_being_compared(run, machinist, by_a_worker):
    sent(run, machinist)
    with pytest.raises(actions.NotNow, match="being compared"):
        count(run, machinist)


def test_what_a_worker_found_unchanged_lets_the_lot_go_on(run, machinist, by_a_worker):
    compared(sent(run, machinist))
    assert count(run, machinist)


def test_nobody_judges_what_is_still_being_compared(run, machinist, reviewer, by_a_worker):
    with pytest.raises(actions.NotNow, match="still being compared"):
        read_back_actions.refuse(sent(run, machinist, DEEPER), reason="no", by=reviewer)


def test_what_a_worker_could_not_compare_waits_for_a_reviewer(run, machinist, reviewer, by_a_worker):
    row = sent(run, machinist, DEEPER)
    Work.objects.filter(pk=row.work_id).update(state=Work.State.FAILED, error="out of memory")
    now = ReadBack.objects.get(pk=row.pk)
    assert "could not be compared" in read_backs.unsettled(now)
    assert read_back_actions.refuse(now, reason="no", by=reviewer).verdict == ReadBack.Verdict.REFUSED


def test_bytes_that_were_compared_before_are_known_at_once(run, machinist, owner, by_a_worker):
    first = compared(sent(run, machinist, SLOWER))
    read_back_actions.refuse(first, reason="too slow", by=owner)
    assert sent(run, machinist, SLOWER).handling == Handling.ACCEPT


def test_the_history_says_when_a_worker_compared_it(run, machinist, by_a_worker):
    compared(sent(run, machinist))
    assert "read_back_compared" in [row.kind for row in ledger.rows_for(run.lot.job.chain)]


def test_a_worker_compares_with_the_copy_to_prove_out_too(run, machinist, by_a_worker):
    row = sent(run, machinist)
    copies = row.work.data["copies"]
    kept = {
        copy.stored.sha256 for copy in (queries.floor_copy_of(run.step), queries.prove_out_copy_of(run.step)) if copy
    }
    assert set(copies) == kept


@pytest.mark.parametrize(("sender", "is_refused"), [("machinist", False), ("owner", True)])
def test_where_two_persons_sign_whoever_sent_it_in_does_not(run, machinist, owner, sender, is_refused):
    """The reviewer who took it may: the bytes are the sender's."""
    HouseRule.objects.create(key="sign_off_two_persons", value="1")
    made = read_back_actions.take(sent(run, {"machinist": machinist, "owner": owner}[sender], SLOWER), by=owner)
    review(made)
    assert ("two persons" in programs.why_not(programs.Reviewed(programs.fresh(made)), by=owner)) is is_refused
