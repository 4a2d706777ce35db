"""Adding, changing and reading people; one's own page."""

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.urls import reverse

from shopflow.people import actions, queries
from shopflow.people.models import Role, User
from shopflow.records.models import LedgerRow
from tests.people_fixtures import PASSWORD, make_person

NEW = {"username": "cleo", "full_name": "Cleo Marsh", "roles": ["machinist"], "password": PASSWORD}


def kinds():
    return list(LedgerRow.objects.filter(chain="shop").order_by("seq").values_list("kind", flat=True))


def change(person, by, **changes):
    values = {
        "username": person.username,
        "full_name": person.full_name,
        "roles": sorted(person.roles),
        "is_active": person.is_active,
    }
    return actions.change_person(person, **{**values, **changes}, by=by)


def test_a_lead_adds_a_person_with_roles(lead):
    cleo = actions.add_person(**NEW, by=lead)
    assert User.objects.get(pk=cleo.pk).roles == {Role.MACHINIST}


def test_an_added_person_has_a_temporary_password(lead):
    assert actions.add_person(**NEW, by=lead).password_is_temporary


def test_adding_a_person_is_in_the_history(lead):
    actions.add_person(**NEW, by=lead)
    assert kinds() == ["person_added", "roles_changed"]


def test_the_history_holds_no_name(lead):
    actions.add_person(**NEW, by=lead)
    assert not LedgerRow.objects.filter(payload__icontains="cleo").exists()


def test_only_a_lead_adds_people(programmer):
    with pytest.raises(PermissionDenied, match="lead"):
        actions.add_person(**NEW, by=programmer)


def test_a_user_name_is_given_once(lead):
    actions.add_person(**NEW, by=lead)
    with pytest.raises(ValidationError) as refusal:
        actions.add_person(**NEW, by=lead)
    assert "username" in refusal.value.error_dict


def test_a_password_that_everybody_uses_is_refused(lead):
    with pytest.raises(ValidationError):
        actions.add_person(**{**NEW, "password": "password"}, by=lead)


def test_the_first_lead_needs_nobody(db):
    first = actions.add_person(**{**NEW, "roles": ["lead"]}, by=None, temporary=False)
    assert first.holds(Role.LEAD)


def test_nobody_is_added_without_a_lead_later_on(viewer):
    with pytest.raises(ValidationError, match="ask a lead"):
        actions.add_person(**NEW, by=None)


def test_a_person_can_be_given_and_refused_roles(lead, viewer):
    change(viewer, lead, roles=["inspector", "machinist"])
    assert User.objects.get(pk=viewer.pk).roles == {Role.INSPECTOR, Role.MACHINIST}


def test_a_change_of_roles_says_before_and_after_in_the_history(lead, viewer):
    change(viewer, lead, roles=["inspector"])
    assert LedgerRow.objects.get(kind="roles_changed").data == {"before": ["viewer"], "after": ["inspector"]}


def test_saving_without_a_change_leaves_no_history(lead, viewer):
    change(viewer, lead)
    assert kinds() == []


@pytest.mark.parametrize("changes", [{"roles": ["viewer"]}, {"is_active": False}])
def test_the_last_lead_stays_a_lead(lead, changes):
    with pytest.raises(ValidationError, match="Nobody else is a lead"):
        change(lead, lead, **changes)


def test_a_lead_may_go_when_there_is_another(lead):
    make_person("second", Role.LEAD)
    change(lead, lead, is_active=False)
    assert not User.objects.get(pk=lead.pk).is_active


def test_a_lead_who_left_is_no_second_lead(lead):
    make_person("second", Role.LEAD, is_active=False)
    assert queries.is_last_lead(lead)


def test_a_given_password_is_temporary(lead, viewer):
    actions.give_password(viewer, password=PASSWORD, by=lead)
    assert User.objects.get(pk=viewer.pk).password_is_temporary


def test_ones_own_password_is_not_temporary(client, lead):
    anna = make_person("anna", "viewer", password="given by a lead", password_is_temporary=True)
    client.force_login(anna)
    client.post(reverse("people:my_password"), {"old": "given by a lead", "new": PASSWORD})
    anna.refresh_from_db()
    assert not anna.password_is_temporary
    assert anna.check_password(PASSWORD)


def test_the_given_password_cannot_be_kept(db):
    anna = make_person("anna", "viewer", password="given by a lead", password_is_temporary=True)
    with pytest.raises(ValidationError, match="choose another"):
        actions.change_password(old="given by a lead", new="given by a lead", by=anna)


def test_changing_a_password_takes_the_old_one(viewer):
    with pytest.raises(ValidationError, match="present password"):
        actions.change_password(old="guessed", new=PASSWORD, by=viewer)


def test_changing_a_password_logs_other_devices_out(client, db):
    from django.test import Client

    anna = make_person("anna", "viewer", password="the one before")
    elsewhere = Client()
    elsewhere.force_login(anna)
    client.force_login(anna)
    client.post(reverse("people:my_password"), {"old": "the one before", "new": PASSWORD})
    assert client.get(reverse("people:me")).status_code == 200
    assert elsewhere.get(reverse("people:me")).status_code == 302


@pytest.mark.parametrize("pin", ["123", "123456789", "12a4", "٣٤٥٦", "0000", "1234", "9876"])
def test_a_pin_that_is_guessed_at_once_is_refused(db, pin):
    anna = make_person("anna", "machinist", password=PASSWORD)
    with pytest.raises(ValidationError):
        actions.change_pin(password=PASSWORD, pin=pin, by=anna)


def test_changing_a_pin_takes_the_password(viewer):
    with pytest.raises(ValidationError, match="present password"):
        actions.change_pin(password="guessed", pin="2580", by=viewer)


def test_a_new_badge_is_shown_once_and_opens_a_station(client, lead, machinist):
    client.force_login(lead)
    page = client.post(reverse("people:issue_badge", args=[machinist.pk]))
    code = page.context["code"]
    assert code in page.text
    assert code not in client.get(reverse("people:edit", args=[machinist.pk])).text


def test_a_new_badge_voids_the_one_before(lead, machinist):
    first = actions.issue_badge(machinist, by=lead)
    actions.issue_badge(machinist, by=lead)
    from shopflow.people.log_in import badge_digest

    assert not User.objects.filter(badge_digest=badge_digest(first)).exists()


def test_the_units_of_a_person_are_theirs(client, viewer):
    client.force_login(viewer)
    client.post(reverse("people:my_units"), {"units": "in"})
    viewer.refresh_from_db()
    assert viewer.units == "in"


def test_a_refused_person_form_keeps_what_was_typed(client, lead):
    client.force_login(lead)
    page = client.post(reverse("people:add"), {**NEW, "username": "two words"})
    assert page.status_code == 422
    assert "two words" in page.text
    assert "Cleo Marsh" in page.text


def test_a_password_is_never_sent_back(client, lead):
    client.force_login(lead)
    assert PASSWORD not in client.post(reverse("people:add"), {**NEW, "username": "two words"}).text


def test_the_list_shows_somebody_who_left_last(client, lead):
    make_person("aaron", "viewer", is_active=False)
    client.force_login(lead)
    text = client.get(reverse("people:list")).text
    assert text.index("The Lead") < text.index("Aaron")


def test_the_list_asks_the_same_number_of_queries_for_many_people(client, lead, django_assert_max_num_queries):
    for n in range(30):
        make_person(f"person{n}", "viewer", "machinist")
    client.force_login(lead)
    with django_assert_max_num_queries(8):
        client.get(reverse("people:list"))
