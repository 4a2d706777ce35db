"""What comes back is held against the copies that may run at the op, and against the other ops' programs."""

import pytest
from django.urls import reverse

from shopflow.floor import actions, comparing, queries, read_back_actions, read_backs, running
from shopflow.floor.actions import NotNow
from shopflow.floor.models import FloorCopy, Packet, ReadBack
from shopflow.jobs.models import Setup, Step
from shopflow.people.models import User
from shopflow.records import files, work
from tests.floor.objects import SETUP_CHECKS, op, passed_on
from tests.people_fixtures import make_person
from tests.programs.objects import upload
from tests.workflow.objects import on_floor

Handling = ReadBack.Handling


@pytest.fixture(scope="module")
def made_once(rows_of_the_file):
    """A job of one milling op on the floor, not started yet; of another op that runs a program of its own."""
    owner = make_person("the_owner", password="seven brass fittings")
    job = on_floor(owner, quantity=5)
    lot = job.lots.get()
    passed_on(lot, 10, 5, owner)
    first = queries.floor_copy_of(op(lot, 20))
    setup = Setup.objects.create(job=job, number=9, title="other side", work_offset=3)
    Step.objects.create(job=job, op_number=25, kind=Step.Kind.MILL, title="mill the other side", setup=setup)
    text = contents(first).replace(b"X40.", b"X35.").replace(b"Z-2.", b"Z-3.5")
    other = upload(job, text, by=owner, name="1002", setups=[setup], reviewed=False)
    FloorCopy.objects.create(
        packet=first.packet, revision=other, sign_off=first.sign_off, stored=other.stored, name="1002.nc"
    )
    return lot.pk


@pytest.fixture
def lot(made_once, db):
    return queries.lots_of(Step.objects.get(op_number=25).job)[0]


@pytest.fixture
def owner(lot):
    return User.objects.get(username="the_owner")


def contents(copy):
    with files.open_file(copy.stored) as handle:
        return handle.read()


def started(lot, owner):
    return actions.start(lot, op(lot, 20), by=owner, compared="first lines", confirmed=SETUP_CHECKS)


def newer_packet(lot, owner, *change):
    """A packet whose copy of op 20 has other bytes."""
    old = queries.floor_copy_of(op(lot, 20))
    packet = Packet.objects.create(job=lot.job, number=old.packet.number + 1, content_hash="1" * 64, released_by=owner)
    stored = files.store(contents(old).replace(*change), media_type="text/plain")
    return FloorCopy.objects.create(
        packet=packet, revision=old.revision, sign_off=old.sign_off, stored=stored, name=old.name
    )


def sent(lot, owner, data):
    return read_back_actions.send(lot, op(lot, 20), data, by=owner, file_name="1001.nc")


SLOWER = (b"F600.", b"F550.")


def test_the_newest_copy_is_compared_where_it_runs(lot, owner):
    newest = newer_packet(lot, owner, *SLOWER)
    row = sent(lot, owner, contents(newest))
    assert (row.floor_copy, row.handling, read_backs.whose(row)) == (newest, Handling.NONE, "")


def test_a_superseded_copy_is_found_and_named_and_looked_at_before_the_lot_runs(lot, owner):
    old = queries.floor_copy_of(op(lot, 20))
    newer_packet(lot, owner, *SLOWER)
    row = sent(lot, owner, contents(old))
    assert (row.floor_copy.stored, row.changes, row.handling) == (old.stored, [], Handling.REVIEW)
    assert "packet 1, which packet 2 had superseded" in read_backs.unsettled(row)


def test_a_run_that_began_before_the_newer_packet_goes_on_with_its_copy(lot, owner):
    old = queries.floor_copy_of(op(lot, 20))
    started(lot, owner)
    newer_packet(lot, owner, *SLOWER)
    row = sent(lot, owner, contents(old))
    assert (row.handling, read_backs.unsettled(row)) == (Handling.NONE, "")
    assert "superseded" in read_backs.whose(row)


def test_a_packet_that_is_released_later_does_not_change_what_was_said(lot, owner):
    row = sent(lot, owner, contents(queries.floor_copy_of(op(lot, 20))))
    newer_packet(lot, owner, *SLOWER)
    assert read_backs.whose(row) == ""


def test_the_program_of_another_op_is_called_that(lot, owner):
    row = sent(lot, owner, contents(queries.floor_copy_of(op(lot, 25))))
    assert (row.program_of, row.handling) == (op(lot, 25), Handling.REVIEW)
    assert "This is op 25's program, not op 20's." in read_backs.unsettled(row)


def test_the_program_of_another_op_with_a_slower_feed_is_still_that_ops(lot, owner):
    row = sent(lot, owner, contents(queries.floor_copy_of(op(lot, 25))).replace(*SLOWER))
    assert row.program_of == op(lot, 25)


def test_a_program_like_none_is_of_its_own_op(lot, owner):
    row = sent(lot, owner, contents(queries.floor_copy_of(op(lot, 20))).replace(b"Z-2.", b"Z-9."))
    assert (row.program_of, row.handling, read_backs.whose(row)) == (None, Handling.REVIEW, "")


def test_another_ops_program_becomes_no_revision_of_this_op(lot, owner):
    row = sent(lot, owner, contents(queries.floor_copy_of(op(lot, 25))))
    with pytest.raises(NotNow, match="becomes no revision of op 20"):
        read_back_actions.take(row, by=owner)


def test_a_worker_finds_the_other_ops_program_too(lot, owner, monkeypatch):
    monkeypatch.setattr(comparing, "AT_ONCE_BYTES", 1)
    row = sent(lot, owner, contents(queries.floor_copy_of(op(lot, 25))))
    work.run(row.work_id, comparing.run, save=read_back_actions.note_compared)
    row.refresh_from_db()
    assert row.program_of == op(lot, 25)


def test_withdrawn_copies_are_not_compared(lot, owner):
    old = queries.floor_copy_of(op(lot, 20))
    newer_packet(lot, owner, *SLOWER)
    files.withdraw(old.stored, by=owner, reason="wrong customer")
    assert old.stored_id not in {copy.stored_id for copy in running.copies_of(op(lot, 20))}


def test_the_pages_say_whose_program_it_is(lot, owner, client):
    row = sent(lot, owner, contents(queries.floor_copy_of(op(lot, 25))))
    client.force_login(owner)
    assert "This is op 25&#x27;s program" in client.get(reverse("floor:read_back", args=[row.pk])).text
    assert "the program of op 25" in client.get(reverse("floor:read_backs", args=[lot.job_id])).text


def test_another_ops_program_is_not_offered_to_be_taken(lot, owner, client):
    row = sent(lot, owner, contents(queries.floor_copy_of(op(lot, 25))))
    client.force_login(owner)
    shown = client.get(reverse("floor:read_back", args=[row.pk])).text
    assert 'name="take"' not in shown and 'name="refuse"' in shown
