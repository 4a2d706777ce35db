"""Setting up is said when it begins and ends with the start of the op; what it took is kept for the next plan."""

from datetime import UTC, datetime, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from shopflow.floor import actions, queries, reported
from shopflow.floor.models import SettingUp
from shopflow.jobs.models import Job, SetUpTaken, Stage, Step
from shopflow.records import ledger
from tests.floor.objects import a_lot, op, passed_on, started

pytestmark = pytest.mark.django_db
NOON = datetime(2026, 6, 3, 12, 0, tzinfo=UTC)


@pytest.fixture
def lot(lead):
    return a_lot(lead)


@pytest.fixture
def at_noon(monkeypatch):
    """The clock stands at noon, so that no test depends on how far midnight is."""
    monkeypatch.setattr(timezone, "now", lambda: NOON)


def begin(lot, by, *, minutes_ago=0, **more):
    with reported.made_at(NOON - timedelta(minutes=minutes_ago)):
        return actions.begin_setting_up(lot, op(lot, 20), by=by, **more)


def begun_rows(lot):
    return ledger.rows_for(lot.job.chain).filter(kind="setup_begun")


def started_at_noon(lot, by):
    passed_on(lot, 10, 12, by)
    with reported.made_at(NOON):
        return started(lot, 20, by)


def test_setting_up_is_one_row_of_the_ledger_with_lot_op_and_machine(lot, lead, at_noon):
    begin(lot, lead)
    row = begun_rows(lot).get()
    assert (row.subject, row.data["op"], row.data["machine"]) == (("lot", lot.pk), 20, "Long mill")


def test_it_begins_when_the_device_says_so(lot, lead, at_noon):
    assert begin(lot, lead, minutes_ago=30).begun_at == NOON - timedelta(minutes=30)


def test_a_second_press_repeats_nothing(lot, lead, at_noon):
    first = begin(lot, lead, minutes_ago=30)
    assert begin(lot, lead) == first and first.begun_at == NOON - timedelta(minutes=30)
    assert begun_rows(lot).count() == 1


def test_a_report_sent_twice_with_its_key_counts_once(lot, lead, at_noon):
    for _ in range(2):
        begin(lot, lead, key="a-key-of-a-device", anew=True)
    assert begun_rows(lot).count() == 1


def test_a_report_that_comes_again_after_the_start_begins_nothing(lot, lead, at_noon):
    begin(lot, lead, minutes_ago=30, key="a-key-of-a-device")
    started_at_noon(lot, lead)
    with reported.made_at(NOON - timedelta(minutes=30)):
        again = actions.begin_setting_up(lot, op(lot, 20), by=lead, key="a-key-of-a-device")
    assert again is None and SettingUp.objects.count() == 1


def test_beginning_anew_takes_back_a_press_that_was_wrong(lot, lead, at_noon):
    begin(lot, lead, minutes_ago=30)
    begin(lot, lead, minutes_ago=10, anew=True)
    assert SettingUp.objects.get().begun_at == NOON - timedelta(minutes=10)
    assert begun_rows(lot).count() == 2


def test_the_start_of_the_op_ends_it(lot, lead, at_noon):
    begin(lot, lead, minutes_ago=30)
    run = started_at_noon(lot, lead)
    assert SettingUp.objects.get().run == run and queries.setting_up(lot, op(lot, 20)) is None


def test_minutes_from_the_beginning_to_the_start_are_kept_with_what_was_planned(lot, lead, at_noon):
    """No tools and clamps: 40 minutes by the house rules."""
    begin(lot, lead, minutes_ago=50)
    started_at_noon(lot, lead)
    taken = SetUpTaken.objects.get()
    assert (taken.step, taken.lot, taken.held) == (op(lot, 20), lot.number, "clamps")
    assert (taken.planned, taken.actual) == (40, 50)


def test_what_is_planned_is_kept_without_its_correction(lot, lead, at_noon):
    SetUpTaken.objects.create(step=op(lot, 20), lot=9, held="clamps", planned=40, actual=80)
    begin(lot, lead, minutes_ago=50)
    started_at_noon(lot, lead)
    assert SetUpTaken.objects.get(lot=lot.number).planned == 40


@pytest.mark.parametrize("minutes_ago", [0.5, 13 * 60])
def test_a_set_up_told_of_afterwards_or_over_a_night_says_nothing(lot, lead, at_noon, minutes_ago):
    begin(lot, lead, minutes_ago=minutes_ago)
    started_at_noon(lot, lead)
    assert not SetUpTaken.objects.exists() and queries.setting_up(lot, op(lot, 20)) is None


def test_the_day_is_the_shop_s_own_and_not_that_of_greenwich(lot, lead, at_noon):
    """At UTC + 13, noon in Greenwich is one at night, and an hour and a half earlier is the day before."""
    begin(lot, lead, minutes_ago=90)
    with timezone.override("Pacific/Fakaofo"):
        started_at_noon(lot, lead)
    assert not SetUpTaken.objects.exists()


def test_an_op_starts_without_anybody_having_said_that_it_was_set_up(lot, lead, at_noon):
    started_at_noon(lot, lead)
    assert not SetUpTaken.objects.exists()


def test_each_set_up_of_a_lot_is_kept(lot, lead, at_noon):
    begin(lot, lead, minutes_ago=50)
    actions.finish(started_at_noon(lot, lead), by=lead)
    begin(lot, lead, minutes_ago=20)
    with reported.made_at(NOON):
        started(lot, 20, lead)
    assert sorted(SetUpTaken.objects.values_list("actual", flat=True)) == [20, 50]


def refused(lot, number, by):
    with pytest.raises(actions.NotNow) as refusal:
        actions.begin_setting_up(lot, op(lot, number), by=by)
    return str(refusal.value)


def test_an_op_that_has_started_is_set_up_already(lot, lead, at_noon):
    started_at_noon(lot, lead)
    assert "already started" in refused(lot, 20, lead)


def test_an_op_without_a_setup_is_not_set_up(lot, lead):
    assert "no setup" in refused(lot, 10, lead)


def test_nothing_is_set_up_for_pieces_that_are_past_the_op(lot, lead, at_noon):
    run = started_at_noon(lot, lead)
    actions.accept_first_piece(run, by=lead)
    actions.count_good(run, 12, by=lead)
    actions.finish(run, by=lead)
    assert "still to come" in refused(lot, 20, lead)


@pytest.mark.parametrize(
    ("change", "said"), [({"stage": Stage.RELEASE}, "not released"), ({"held_reason": "drawing"}, "is held")]
)
def test_a_job_that_may_not_run_is_not_set_up(lot, lead, change, said):
    Job.objects.filter(pk=lot.job_id).update(**change)
    lot.job.refresh_from_db()
    assert said in refused(lot, 20, lead)


def url(name, lot, *more):
    return reverse(f"floor:{name}", args=[lot.pk, op(lot, 20).pk, *more])


def test_the_page_offers_it_before_the_start_and_says_since_when_after(client, lot, machinist):
    client.force_login(machinist)
    before = client.get(url("op", lot)).text
    client.post(url("report", lot, "set-up"), {"key": "a-key-of-a-page"})
    after = client.get(url("op", lot)).text
    assert "Begin setting up" in before and "Being set up since" not in before
    assert "Being set up since" in after and str(machinist) in after


def test_the_page_takes_a_wrong_press_back(client, lot, machinist):
    client.force_login(machinist)
    client.post(url("report", lot, "set-up"), {"key": "a-key-of-a-page"})
    first = SettingUp.objects.get().begun_at
    client.post(url("report", lot, "set-up-anew"), {"key": "another-of-a-page"})
    assert SettingUp.objects.get().begun_at > first


@pytest.mark.parametrize("number", [10, 20])
def test_an_op_that_has_started_or_mills_nothing_offers_nothing(client, lot, lead, number):
    passed_on(lot, 10, 6, lead)
    started(lot, 20, lead)
    client.force_login(lead)
    page = client.get(reverse("floor:op", args=[lot.pk, op(lot, number).pk])).text
    assert "Begin setting up" not in page


def test_whoever_may_not_start_the_op_may_not_begin_to_set_it_up(client, lot, inspector):
    client.force_login(inspector)
    client.post(url("report", lot, "set-up"), {"key": "a-key-of-a-page"})
    assert not SettingUp.objects.exists()


def test_minutes_of_setting_up_stand_beside_the_plan_on_the_job(client, lot, lead):
    Step.objects.filter(pk=op(lot, 20).pk).update(minutes_setup=40)
    for number, minutes in enumerate((30, 50)):
        SetUpTaken.objects.create(step=op(lot, 20), lot=number, held="clamps", planned=40, actual=minutes)
    client.force_login(lead)
    page = " ".join(client.get(reverse("workflow:job", args=[lot.job_id])).text.split())
    assert "40.0 <span" in page and "mean of 2 set-ups" in page


def test_the_station_says_what_is_being_set_up(client, lot, machinist):
    passed_on(lot, 10, 12, machinist)
    machine = op(lot, 20).setup.machine
    client.force_login(machinist)
    here = reverse("floor:station", args=[f"m{machine.pk}"])
    before = client.get(here).text
    actions.begin_setting_up(lot, op(lot, 20), by=machinist)
    assert "being set up" not in before and "being set up" in client.get(here).text


def test_the_page_says_that_a_set_up_of_another_day_corrects_nothing(client, lot, machinist):
    actions.begin_setting_up(lot, op(lot, 20), by=machinist)
    client.force_login(machinist)
    today = client.get(url("op", lot)).text
    SettingUp.objects.update(begun_at=timezone.now() - timedelta(days=1))
    assert "another day" not in today and "another day" in client.get(url("op", lot)).text
