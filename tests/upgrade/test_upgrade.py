"""A shop of each kept state, with data in it, is brought to this version and goes on working."""

from contextlib import contextmanager

import pytest
from django.apps import apps
from django.conf import settings
from django.db import DEFAULT_DB_ALIAS, DatabaseError, connection, transaction
from django.test import Client
from django.urls import reverse

from shopflow.commands.demo.at_once import work_done_at_once
from shopflow.deploy import lay_out
from shopflow.floor import actions as floor
from shopflow.floor import queries as standings
from shopflow.jobs import queries as plans
from shopflow.jobs.models import Job
from shopflow.people.models import User
from shopflow.programs import queries as programs
from shopflow.programs.actions import review_what_changed
from shopflow.records import protect
from shopflow.records.management.commands.verify_records import examine
from shopflow.records.models import LedgerRow
from shopflow.records.proof import Head
from tests.upgrade import kept

pytestmark = [pytest.mark.both_databases, pytest.mark.xdist_group("upgrade")]

GROWING = {"records.ledgerrow", "records.chainhead", "records.work", "programs.review"}
"""Tables that an upgrade may add to: it reviews again what its rules may judge otherwise, and notes that."""


assert kept.names(), "no state is kept in tests/upgrade/states"


@contextmanager
def empty_database(folder):
    """A database that nothing was ever migrated in, in the place of the tests' own, on the same server."""
    before = connection.settings_dict["NAME"]
    fresh = "state_to_upgrade" if connection.vendor == "postgresql" else str(folder / "shop.sqlite3")
    _on_postgresql(f"CREATE DATABASE {fresh}")
    connection.close()
    connection.settings_dict["NAME"] = fresh
    try:
        yield
    finally:
        connection.close()
        connection.settings_dict["NAME"] = before
        _on_postgresql(f"DROP DATABASE {fresh}")


def _on_postgresql(statement):
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute(statement)


@pytest.fixture(scope="module", params=kept.names())
def upgraded(request, django_db_setup, django_db_blocker, tmp_path_factory):
    """The kept state in its own database, migrated to this version by what `make upgrade` calls, and reviewed again."""
    folder = tmp_path_factory.mktemp("upgraded")
    patch = pytest.MonkeyPatch()
    patch.setattr(settings, "FILES_DIR", folder / "files")
    with django_db_blocker.unblock(), empty_database(folder):
        state = kept.read(request.param)
        kept.fill(state)
        protect.restore()  # as every start of that version did
        lay_out.bring_database_up_to_date()
        with work_done_at_once():
            review_what_changed()  # as the first worker does
        yield state
    patch.undo()


@pytest.fixture(autouse=True)
def as_upgraded(upgraded):
    """Each test starts from the shop as the upgrade left it."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


@pytest.fixture
def floor_job():
    return Job.objects.get(stage="floor")


def rows_now(label):
    return {row.pk: kept.plain(row) for row in apps.get_model(label)._base_manager.all()}


def test_no_row_is_lost_or_added(upgraded):
    wanted = {label: len(rows) for label, rows in upgraded.rows.items() if label not in GROWING}
    assert {label: apps.get_model(label)._base_manager.count() for label in wanted} == wanted


@pytest.mark.parametrize("app", ["records", "people", "shop", "jobs", "programs", "floor", "inspection"])
def test_every_kept_value_reads_the_same(upgraded, app):
    """All columns that are still there; the ends of chains are checked with the chains."""
    for label in upgraded.rows:
        if label.startswith(f"{app}.") and label != "records.chainhead":
            now, key = rows_now(label), apps.get_model(label)._meta.pk.attname
            kept_rows = [{name: row[name] for name in row if name in now[row[key]]} for row in upgraded.rows[label]]
            assert [{name: now[row[key]][name] for name in row} for row in kept_rows] == kept_rows


def test_the_history_holds_together_with_its_heads_of_that_time(upgraded):
    heads = [Head(row["chain"], row["seq"], row["hash"]) for row in upgraded.rows["records.chainhead"]]
    found = examine(heads)
    assert (found["flaws"], found["compared"]) == ([], len(heads))


def test_append_only_tables_are_protected_again():
    assert protect.check() == []
    filled = [model for model in protect.APPEND_ONLY if model.objects.exists()]
    assert LedgerRow in filled
    for model in filled:
        with pytest.raises(DatabaseError), transaction.atomic():
            model.objects.all()._raw_delete(DEFAULT_DB_ALIAS)


def test_what_was_signed_off_still_is(floor_job):
    assert floor_job.programs.count() == 2
    assert programs.unsigned(floor_job) == []


def test_an_approved_plan_is_still_approved(floor_job):
    assert plans.is_plan_approved(floor_job)


PAGES = {
    "home": lambda job: reverse("workflow:home"),
    "job": lambda job: reverse("workflow:job", args=[job.pk]),
    "history": lambda job: reverse("workflow:history", args=[job.pk]),
    "plan": lambda job: reverse("jobs:plan", args=[job.pk]),
    "setup": lambda job: reverse("jobs:setup", args=[job.setups.first().pk]),
    "program": lambda job: programs.newest(job.programs.first()).get_absolute_url(),
    "op": lambda job: reverse("floor:op", args=[job.lots.first().pk, job.steps.get(op_number=20).pk]),
    "bench": lambda job: reverse("inspection:lot", args=[job.lots.first().pk, job.steps.get(kind="inspect").pk]),
    "crib": lambda job: reverse("shop:crib"),
}


@pytest.mark.parametrize("page", PAGES)
def test_its_pages_answer(floor_job, page):
    client = Client()
    client.force_login(User.objects.get(username="odile"))
    assert client.get(PAGES[page](floor_job)).status_code == 200


def test_the_floor_reports_on(floor_job):
    lot, step = floor_job.lots.first(), floor_job.steps.get(op_number=20)
    before, rows = standings.standing_at(lot, step), LedgerRow.objects.filter(chain=floor_job.chain).count()
    floor.scrap(lot, step, 1, reason="dropped", by=User.objects.get(username="ruben"))
    assert standings.standing_at(lot, step) == before - 1
    assert LedgerRow.objects.filter(chain=floor_job.chain).count() == rows + 1
