"""The shop's calendar: which weekdays are worked, which days are closed, and what follows its dates."""

import datetime as dt

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.urls import reverse

from shopflow.jobs import queries as jobs
from shopflow.people import actions as people
from shopflow.records.models import LedgerRow
from shopflow.shop import actions, csv_files
from shopflow.shop.calendar import next_workday, workdays
from shopflow.shop.models import ClosedDay
from shopflow.shop.tables import TABLES
from tests.jobs.objects import a_planned_job
from tests.shop.objects import a_closed_day, kept

FRIDAY, MONDAY = dt.date(2026, 11, 27), dt.date(2026, 11, 30)

pytestmark = pytest.mark.django_db


def test_a_new_shop_works_monday_to_friday():
    assert next_workday(FRIDAY) == MONDAY


def test_a_closed_day_is_passed_over():
    kept(a_closed_day(day=MONDAY))
    assert next_workday(FRIDAY) == MONDAY + dt.timedelta(days=1)


def test_the_weekdays_that_are_worked_are_a_fact_of_the_shop(lead):
    people.change_shop_settings(name="S", address="", worked_days=["6", "1"], by=lead)
    assert workdays().weekdays == {1, 6}


def test_a_change_of_the_weekdays_stands_in_the_history(lead):
    people.change_shop_settings(name="S", address="", worked_days=["1", "2"], by=lead)
    assert LedgerRow.objects.get(kind="shop_settings_changed").data["days"] == "12"


def test_a_lead_keeps_closed_days_with_a_row_in_the_history(lead, programmer):
    actions.save(a_closed_day(), by=lead)
    assert LedgerRow.objects.get(kind="closed_day_added").by == lead
    with pytest.raises(PermissionDenied):
        actions.save(a_closed_day("another"), by=programmer)


def test_closed_days_that_end_before_they_begin_are_refused(lead):
    with pytest.raises(ValidationError, match="before the first"):
        actions.save(a_closed_day(last=dt.date(2026, 12, 1)), by=lead)


def test_closed_days_go_out_as_csv_and_come_in_again(lead):
    actions.save(a_closed_day(last=dt.date(2027, 1, 1)), by=lead)
    text = csv_files.write(TABLES["closed_days"], ClosedDay.objects.all())
    ClosedDay.objects.all().delete()
    csv_files.apply(csv_files.read(TABLES["closed_days"], text), by=lead)
    assert ClosedDay.objects.get().last == dt.date(2027, 1, 1)


def test_a_job_has_to_start_before_the_closed_days_that_lie_in_its_time(programmer):
    job = a_planned_job(programmer)
    before = jobs.needed_by(job)
    kept(a_closed_day(day=before, last=job.due_on))
    assert jobs.needed_by(job) < before


def test_the_page_of_the_shop_asks_for_the_weekdays(client, lead):
    client.force_login(lead)
    page = client.get(reverse("shop:facts"))
    assert page.context["form"]["worked_days"].value() == list("12345")
