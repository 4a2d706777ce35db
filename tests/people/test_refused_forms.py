"""Nothing that a person typed is lost when the form is refused and the answer is a redirect."""

import pytest
from django import forms
from django.test import RequestFactory
from django.urls import reverse

from shopflow.people import refused_forms
from tests.floor.objects import a_lot, op

pytestmark = pytest.mark.django_db


class EveryField(forms.Form):
    reason = forms.CharField(label="Why")
    uses = forms.MultipleChoiceField(choices=[("d", "drill"), ("r", "ream")])
    password = forms.CharField(widget=forms.PasswordInput)
    key = forms.CharField(widget=forms.HiddenInput)
    note = forms.CharField(required=False)


def sent(**typed):
    request = RequestFactory().post("/floor/hold/", typed)
    request.session = {}
    refused_forms.keep(request, EveryField(request.POST))
    return request


def report(client, lot, what, **typed):
    step = op(lot, 10)
    return client.post(reverse("floor:report", args=[lot.pk, step.pk, what]), typed, follow=True).content.decode()


def test_each_value_that_was_typed_or_chosen_is_kept_with_its_label():
    kept = refused_forms.take(sent(reason="chatter", uses=["d", "r"], note=""))
    assert (kept.action, [(one.label, one.text) for one in kept.typed]) == (
        "/floor/hold/",
        [("Why", "chatter"), ("Uses", "drill"), ("Uses", "ream")],
    )


def test_passwords_and_what_the_page_sends_by_itself_are_not_kept():
    assert refused_forms.take(sent(password="brass fittings", key="abc")) is None


def test_what_was_kept_is_shown_once():
    request = sent(reason="chatter")
    assert refused_forms.take(request) and refused_forms.take(request) is None


def test_the_reason_stays_where_the_number_of_pieces_is_missing(client, lead):
    client.force_login(lead)
    page = report(client, a_lot(lead), "hold", quantity="", reason="a crack at the bore")
    assert "a crack at the bore" in page and "Not done" in page


def test_the_reason_stays_where_the_floor_refuses_it(client, lead):
    client.force_login(lead)
    assert "a crack at the bore" in report(client, a_lot(lead), "scrap", quantity="999", reason="a crack at the bore")


def test_a_report_that_counts_leaves_nothing_behind(client, lead):
    client.force_login(lead)
    assert "data-typed-for" not in report(client, a_lot(lead), "scrap", quantity="1", reason="a crack at the bore")
