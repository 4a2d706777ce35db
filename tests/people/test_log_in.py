"""Logging in by password and by badge."""

from datetime import timedelta

import pytest
from django.contrib.auth.hashers import make_password
from django.urls import reverse
from django.utils import timezone

from shopflow.people import log_in
from shopflow.people.models import FailedTries
from tests.people_fixtures import PASSWORD, make_person

CODE = "ABCDEFGHJKLMNPQRSTUV"
PIN = "2580"


@pytest.fixture
def anna(db):
    return make_person("anna", "lead", password=PASSWORD)


@pytest.fixture
def ben(db):
    return make_person("ben", "machinist", badge_digest=log_in.badge_digest(CODE), pin_hash=make_password(PIN))


def try_password(client, password, username="anna", **more):
    return client.post(reverse("people:log_in"), {"username": username, "password": password, **more})


def try_badge(client, badge=CODE, pin=PIN, **more):
    return client.post(reverse("people:station_log_in"), {"badge": badge, "pin": pin, **more})


def let_pass(**time):
    """As if this time had passed since the last failure."""
    FailedTries.objects.update(last_at=timezone.now() - timedelta(**time))


def test_the_right_password_logs_in(client, anna):
    assert try_password(client, PASSWORD).status_code == 302
    assert client.session["_auth_user_id"] == str(anna.pk)


def test_a_wrong_password_is_refused_in_words(client, anna):
    answer = try_password(client, "wrong")
    assert answer.status_code == 422
    assert "do not belong together" in answer.text


def test_an_unknown_name_is_refused_like_a_wrong_password(client, anna):
    assert "do not belong together" in try_password(client, PASSWORD, username="nobody").text


def test_somebody_who_left_is_refused(client, anna):
    anna.is_active = False
    anna.save()
    assert try_password(client, PASSWORD).status_code == 422


def test_five_failures_make_even_the_right_password_wait(client, anna):
    for _ in range(log_in.FREE_TRIES):
        try_password(client, "wrong")
    answer = try_password(client, PASSWORD)
    assert answer.status_code == 422
    assert "failed too often" in answer.text


def test_the_waiting_ends(client, anna):
    for _ in range(log_in.FREE_TRIES):
        try_password(client, "wrong")
    let_pass(minutes=1, seconds=1)
    assert try_password(client, PASSWORD).status_code == 302


def test_each_failure_after_the_waiting_doubles_it(client, anna):
    for _ in range(log_in.FREE_TRIES):
        try_password(client, "wrong")
    let_pass(minutes=1, seconds=1)
    assert "2 minutes" in try_password(client, "wrong").text


def test_nobody_waits_longer_than_an_hour(client, anna):
    FailedTries.objects.create(
        key=log_in._key("password", "anna", "127.0.0.1"), count=10**6, last_at=timezone.now() - timedelta(minutes=61)
    )
    assert try_password(client, PASSWORD).status_code == 302


def test_logging_in_forgets_the_failures(client, anna):
    for _ in range(log_in.FREE_TRIES - 1):
        try_password(client, "wrong")
    try_password(client, PASSWORD)
    assert not FailedTries.objects.exists()


def test_failures_elsewhere_do_not_lock_a_person_out(client, anna):
    for _ in range(log_in.FREE_TRIES):
        client.post(reverse("people:log_in"), {"username": "anna", "password": "x"}, REMOTE_ADDR="10.0.0.66")
    assert try_password(client, PASSWORD).status_code == 302


def test_what_was_typed_as_a_name_is_not_kept(client, anna):
    try_password(client, "x", username="my secret typed into the wrong field")
    assert "secret" not in FailedTries.objects.get().key


def test_logging_in_leads_on_to_the_page_that_was_wanted(client, anna):
    assert try_password(client, PASSWORD, next=reverse("people:me")).url == reverse("people:me")


def test_logging_in_never_leads_to_another_site(client, anna):
    assert try_password(client, PASSWORD, next="https://elsewhere.example/").url == reverse("workflow:home")


def test_a_new_shop_says_how_to_make_the_first_lead(client, db):
    assert "make_lead" in client.get(reverse("people:log_in")).text


def test_a_shop_with_people_shows_the_form(client, anna):
    assert "make_lead" not in client.get(reverse("people:log_in")).text


def test_badge_and_pin_log_in(client, ben):
    assert try_badge(client).status_code == 302
    assert client.session["_auth_user_id"] == str(ben.pk)


def test_a_typed_badge_is_read_in_small_letters_too(client, ben):
    assert try_badge(client, badge=f" {CODE.lower()} ").status_code == 302


def test_a_wrong_pin_is_refused(client, ben):
    assert try_badge(client, pin="1357").status_code == 422


def test_a_scanned_badge_leads_to_the_pin_and_says_nothing_of_who_it_is(client, ben):
    """A hand scanner sends Enter behind the code."""
    page = try_badge(client, pin="")
    assert page.status_code == 200
    assert 'name="pin"' in page.text
    assert "Ben" not in page.text
    assert not FailedTries.objects.exists()


def test_the_way_onwards_survives_scan_and_wrong_pin(client, ben):
    address = reverse("people:station_log_in") + "?next=" + reverse("people:me")
    page = client.post(address, {"badge": CODE, "next": reverse("people:me")})
    assert page.context["next"] == reverse("people:me")
    assert try_badge(client, next=reverse("people:me")).url == reverse("people:me")


def test_an_unknown_badge_is_told_like_a_wrong_pin(client, ben):
    def said(answer):
        return answer.context["form"].non_field_errors()

    assert said(try_badge(client, badge="WRONG")) == said(try_badge(client, pin="1357"))


def test_a_badge_without_a_pin_opens_nothing(client, ben):
    ben.pin_hash = ""
    ben.save()
    assert try_badge(client, pin=PIN).status_code == 422


def test_five_wrong_pins_make_even_the_right_one_wait(client, ben):
    for _ in range(log_in.FREE_TRIES):
        try_badge(client, pin="1357")
    assert "failed too often" in try_badge(client).text


def test_wrong_pins_count_from_every_address(client, ben):
    for n in range(log_in.FREE_TRIES):
        client.post(reverse("people:station_log_in"), {"badge": CODE, "pin": "1357"}, REMOTE_ADDR=f"10.0.0.{n}")
    assert try_badge(client).status_code == 422


def test_the_badge_of_somebody_who_left_opens_nothing(client, ben):
    ben.is_active = False
    ben.save()
    assert try_badge(client).status_code == 422


def test_a_station_session_is_short(client, ben):
    try_badge(client)
    assert client.session.get_expiry_age() <= 20 * 60


def test_use_slides_a_station_session_on(client, ben):
    try_badge(client)
    assert "sessionid" in client.get(reverse("people:me"), headers={"accept": "text/html"}).cookies


def test_a_page_that_asks_for_changes_does_not_keep_a_station_session_alive(client, ben):
    try_badge(client)
    answer = client.get(reverse("people:me"), headers={"accept": "text/html", "hx-request": "true"})
    assert "sessionid" not in answer.cookies


def test_a_badge_taken_back_ends_its_session(client, ben):
    try_badge(client)
    ben.badge_digest = None
    ben.save()
    assert client.get(reverse("people:me")).status_code == 302


def test_logging_out_of_a_station_goes_back_to_the_badge(client, ben):
    try_badge(client)
    assert client.post(reverse("people:log_out")).url == reverse("people:station_log_in")


def test_logging_out_of_a_desk_goes_back_to_the_password(client, anna):
    client.force_login(anna)
    assert client.post(reverse("people:log_out")).url == reverse("people:log_in")
    assert client.get(reverse("people:me")).status_code == 302


def test_a_password_log_in_after_a_badge_is_a_desk_session(client, ben):
    try_badge(client)
    ben.set_password(PASSWORD)
    ben.save()
    try_password(client, PASSWORD, username="ben")
    assert "station_badge" not in client.session


def test_a_password_log_in_after_a_badge_is_not_cut_short(client, ben):
    ben.set_password(PASSWORD)
    ben.save()
    try_badge(client)
    try_password(client, PASSWORD, username="ben")
    assert client.session.get_expiry_age() > 20 * 60


@pytest.mark.parametrize("kept", ["badge_digest", "pin_hash"])
def test_neither_badge_nor_pin_is_kept_in_the_clear(ben, kept):
    assert CODE not in getattr(ben, kept)
    assert PIN not in getattr(ben, kept)
