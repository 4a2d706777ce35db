"""What the floor set for a lot is noted, kept as typed, asked for before the lot leaves the op, and shown again."""

import pytest
from django.core.exceptions import PermissionDenied
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from shopflow.core.errors import Unreadable
from shopflow.core.measure import parse
from shopflow.floor import actions, as_run, as_run_actions, queries
from shopflow.floor.as_run_actions import ToolSet, WasSet
from shopflow.floor.models import AsRun, OpRun
from shopflow.jobs.models import Job
from shopflow.people.models import User
from shopflow.records import files, ledger
from shopflow.workflow.gates import close_gate, unmet
from tests.floor.objects import SETUP_CHECKS, a_lot, op, passed_on
from tests.people_fixtures import make_person
from tests.workflow.objects import on_floor

PNG = b"\x89PNG\r\n\x1a\n" + b"\0" * 20
ZERO = parse("-412.35", default_unit="mm")


def was_set(**more):
    return WasSet(**{"offset": "G54", "offset_x": ZERO, "feed_override": 90, **more})


@pytest.fixture(scope="module")
def made_once(rows_of_the_file):
    """A job of one milling op on the floor, all pieces at that op, which runs."""
    owner = make_person("the_owner", password="seven brass fittings")
    lot = on_floor(owner, quantity=3).lots.get()
    passed_on(lot, 10, 3, owner)
    run = actions.start(lot, op(lot, 20), by=owner, compared="first lines", confirmed=SETUP_CHECKS)
    return run.pk


@pytest.fixture
def run(made_once, db):
    return OpRun.objects.select_related("lot__job", "step__setup__machine").get(pk=made_once)


@pytest.fixture
def owner(run):
    return User.objects.get(username="the_owner")


@pytest.fixture
def page(client, owner):
    client.force_login(owner)
    return client


def note(run, by, **more):
    return as_run_actions.note(run.lot, run.step, was_set(**more), by=by)


def post(page, run, **typed):
    return page.post(reverse("floor:report", args=[run.lot.pk, run.step.pk, "as-run"]), typed)


def test_a_length_is_kept_as_it_was_typed(run, owner):
    kept = note(run, owner, tools=(ToolSet(1, length=parse("4.5012 in", default_unit="mm")),))
    assert AsRun.objects.get(pk=kept.pk).tools.get().length.text == "4.5012 in"


def test_a_record_sent_twice_with_its_key_counts_once(run, owner):
    for _ in range(2):
        as_run_actions.note(run.lot, run.step, was_set(), by=owner, key="as-run-key-1")
    assert AsRun.objects.count() == 1


def test_the_history_keeps_a_hash_of_what_was_typed_and_none_of_it(run, owner):
    kept = note(run, owner, note="seen by R. Uben")
    assert "Uben" not in kept.row.payload
    assert "412" not in kept.row.payload


def test_an_empty_record_is_refused(run, owner):
    with pytest.raises(actions.NotNow, match="Nothing was typed"):
        as_run_actions.note(run.lot, run.step, WasSet(offset="G54", tools=(ToolSet(1),)), by=owner)


def test_an_op_without_a_setup_has_nothing_to_note(run, owner):
    with pytest.raises(actions.NotNow, match="no setup"):
        as_run_actions.note(run.lot, op(run.lot, 10), was_set(), by=owner)


def test_an_inspector_notes_nothing_about_a_setup(run, inspector):
    with pytest.raises(PermissionDenied):
        note(run, inspector)


def test_all_but_the_last_pieces_go_on_without_the_record(run, owner):
    actions.count_good(run, 2, by=owner)
    assert queries.standing_at(run.lot, run.step) == 1


def test_the_last_pieces_leave_the_op_only_with_the_record(run, owner):
    with pytest.raises(actions.NotNow, match="what was set for it is not noted yet"):
        actions.count_good(run, 3, by=owner)


def test_with_the_record_the_last_pieces_go_on(run, owner):
    note(run, owner)
    actions.count_good(run, 3, by=owner)
    assert queries.standing_at(run.lot, run.step) == 0


def test_the_record_of_a_lot_holds_for_the_lot_that_was_split_off(run, owner):
    note(run, owner)
    part = actions.split(run.lot, run.step, 1, by=owner)
    assert as_run.problem(part, run.step) == ""


def test_an_op_that_runs_no_program_is_not_asked_for_a_record(lead):
    lot = a_lot(lead)
    passed_on(lot, 10, 12, lead)
    passed_on(lot, 20, 12, lead)
    assert as_run.missing_in(lot.job) == []


def test_a_job_does_not_close_over_an_op_of_which_nothing_was_noted(run):
    told = unmet(close_gate(Job.objects.get(pk=run.lot.job_id)))
    assert "op 20, lot 1" in [condition.reason for condition in told if "noted" in condition.text]


def test_a_photo_is_kept_by_the_hash_of_its_bytes(run, owner):
    kept = as_run_actions.note_photo(run.lot, run.step, PNG, by=owner, text="the stop at the left")
    with files.open_file(kept.photo) as handle:
        assert handle.read() == PNG


def test_what_is_no_photo_is_refused_and_nothing_is_noted(run, owner):
    with pytest.raises(Unreadable, match="no photo"):
        as_run_actions.note_photo(run.lot, run.step, b"%PDF-1.7", by=owner)
    assert not AsRun.objects.exists()


def test_the_page_of_an_op_shows_what_was_set(page, run, owner):
    note(run, owner, tools=(ToolSet(1, length=parse("118.204 mm", default_unit="mm")),))
    shown = page.get(reverse("floor:op", args=[run.lot.pk, run.step.pk])).text
    assert ("118.204" in shown, "-412.35" in shown, "90 %" in shown) == (True, True, True)


def test_a_number_typed_without_a_unit_is_in_the_units_of_the_person(page, run, owner):
    User.objects.filter(pk=owner.pk).update(units="in")
    post(page, run, offset_z="-11.5", t1_length="4.2")
    kept = AsRun.objects.get()
    assert (kept.offset, kept.offset_z.unit, kept.tools.get().length.unit) == ("G54", "in", "in")


def test_a_wrong_value_leaves_everything_else_that_was_typed(page, run):
    answer = post(page, run, offset_x="about 12", t2_length="131.77", note="shim under the left end")
    assert (answer.status_code, "131.77" in answer.text, "shim under" in answer.text) == (422, True, True)


def test_a_device_is_told_that_its_record_counts(page, run, owner):
    sent = {"offset_x": "-1", "key": "device-0123456789", "made_by": owner.pk}
    address = reverse("floor:report", args=[run.lot.pk, run.step.pk, "as-run"])
    answer = page.post(address, sent, headers={"Accept": "application/json"})
    assert answer.json() == {"done": "Noted."}


def test_a_photo_is_sent_in_and_shown_from_the_page_of_the_op(page, run):
    address = reverse("floor:photo", args=[run.lot.pk, run.step.pk])
    page.post(address, {"photo": SimpleUploadedFile("a.png", PNG), "text": "the stop"})
    kept = AsRun.objects.get()
    answer = page.get(reverse("floor:as_run_photo", args=[kept.pk]))
    assert (b"".join(answer.streaming_content), answer["Content-Type"]) == (PNG, "image/png")


def test_the_job_page_of_what_was_set_names_the_ops_that_miss_it(page, run):
    shown = page.get(reverse("floor:as_run_of_job", args=[run.lot.job_id])).text
    assert "Not noted yet" in shown
    assert reverse("floor:op", args=[run.lot.pk, run.step.pk]) in shown


def test_the_history_says_that_it_was_noted(run, owner):
    note(run, owner)
    assert "as_run_noted" in [row.kind for row in ledger.rows_for(run.lot.job.chain)]
