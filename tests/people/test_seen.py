"""A form over a row that somebody else saved meanwhile (people.seen)."""

import json

import pytest
from django import forms
from django.http import QueryDict
from django.urls import reverse

from shopflow.people import actions
from shopflow.people.seen import SeenMixin
from tests.sending import as_sent


class RowForm(SeenMixin, forms.Form):
    unseen = ("reason",)

    name = forms.CharField()
    size = forms.DecimalField(required=False)
    text = forms.CharField(widget=forms.Textarea, required=False)
    kind = forms.ChoiceField(choices=[("a", "the first"), ("b", "the second")])
    uses = forms.MultipleChoiceField(
        choices=[("mill", "mill"), ("drill", "drill")], widget=forms.CheckboxSelectMultiple, required=False
    )
    is_on = forms.BooleanField(required=False)
    reason = forms.CharField()


ROW = {"name": "mill", "size": 2.5, "text": "one\ntwo", "kind": "a", "uses": ["mill"], "is_on": True}
AS_SHOWN = {
    "name": ["mill"], "size": ["2.5"], "text": ["one\r\ntwo"], "kind": ["a"], "uses": ["mill"], "is_on": ["on"],
}  # fmt: skip
OTHERS = {"name": "lathe", "size": 3, "text": "one", "kind": "b", "uses": ["mill", "drill"], "is_on": False}


def sent(shown_with=ROW, take=(), **typed):
    """What a browser sends of a form that was shown with these values, with some typed over."""
    data = QueryDict(mutable=True)
    for name, values in {**AS_SHOWN, **{name: [value] for name, value in typed.items()}}.items():
        data.setlist(name, values)
    data["seen"] = RowForm(initial=shown_with).seen_state
    data.setlist("take", list(take))
    return data


def test_a_form_over_an_unchanged_row_is_settled():
    assert RowForm(sent(name="renamed"), initial=ROW).settled()


@pytest.mark.parametrize("name", OTHERS)
def test_a_field_that_somebody_else_changed_is_noticed(name):
    assert not RowForm(sent(), initial={**ROW, name: OTHERS[name]}).settled()


@pytest.mark.parametrize("name", OTHERS)
def test_what_was_not_touched_takes_what_the_other_saved(name):
    now = {**ROW, name: OTHERS[name]}
    data = sent(reason="because")
    form = RowForm(data, initial=now)
    form.settled()
    assert form.is_valid()
    assert (form.untouched, form.cleaned_data[name]) == ({name}, OTHERS[name])


def test_what_was_typed_stays_beside_what_the_other_saved():
    form = RowForm(sent(name="mine"), initial={**ROW, "name": "theirs"})
    form.settled("Ada")
    assert (form["name"].value(), form.meanwhile, form.saved_by) == ("mine", {"name": "theirs"}, "Ada")


def test_the_others_choice_is_told_in_its_words():
    form = RowForm(sent(kind="a"), initial={**ROW, "kind": "b"})
    form.settled()
    assert form.meanwhile == {"kind": "the second"}


def test_both_having_typed_the_same_is_no_difference_to_look_at():
    form = RowForm(sent(name="same"), initial={**ROW, "name": "same"})
    form.settled()
    assert form.meanwhile == {}


def test_the_form_shown_again_is_settled_when_it_is_sent_again():
    now = {**ROW, "name": "theirs"}
    assert RowForm(sent(now, name="mine"), initial=now).settled()


def test_a_third_change_is_noticed_after_the_second():
    assert not RowForm(sent({**ROW, "name": "theirs"}, name="mine"), initial={**ROW, "name": "a third"}).settled()


def test_a_ticked_field_takes_what_the_other_saved():
    now = {**ROW, **OTHERS}
    form = RowForm(sent(now, take=OTHERS, name="mine", reason="because"), initial=now)
    assert form.settled()
    assert form.is_valid()
    assert form.cleaned_data == {**OTHERS, "reason": "because"}


def test_what_says_nothing_of_the_row_is_not_compared():
    assert "reason" not in json.loads(RowForm(initial=ROW).seen_state)


@pytest.mark.parametrize("odd", ["", "{", "[]", "null", '{"name": 3}', '{"gone": "x"}'])
def test_an_odd_state_breaks_nothing(odd):
    data = sent()
    data["seen"] = odd
    RowForm(data, initial=ROW).settled()


def test_forms_on_one_page_carry_states_of_their_own():
    assert RowForm(prefix="second").seen_name == "second-seen"


def test_a_person_changed_meanwhile_is_shown_beside_what_was_typed(client, lead, machinist):
    client.force_login(lead)
    address = reverse("people:edit", args=[machinist.pk])
    shown = as_sent(client.get(address).context["form"])
    actions.change_person(
        machinist, username=machinist.username, full_name="Ruth Mill", roles=["machinist", "inspector"], is_active=True,
        by=lead,
    )  # fmt: skip
    page = client.post(address, {**shown, "full_name": "R. Mill"})
    assert page.status_code == 422
    assert f"{lead} saved this while you had it open" in page.text
    machinist.refresh_from_db()
    machinist.forget_roles()
    assert (machinist.full_name, sorted(machinist.roles)) == ("Ruth Mill", ["inspector", "machinist"])
    client.post(address, as_sent(page.context["form"]))
    machinist.refresh_from_db()
    machinist.forget_roles()
    assert (machinist.full_name, sorted(machinist.roles)) == ("R. Mill", ["inspector", "machinist"])
