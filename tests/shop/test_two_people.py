"""Two people at the same row of the shop: neither loses what was typed, and nothing is overwritten unseen."""

import pytest
from django.urls import reverse

from shopflow.people.actions import change_shop_settings
from shopflow.shop import actions, queries
from shopflow.shop.models import Tool
from tests.people_fixtures import make_person
from tests.sending import as_sent
from tests.shop.objects import ROWS, a_tool, kept

WORDS = {"crib": "note", "holders": "name", "machines": "note", "materials": "source", "gauges": "note"}


@pytest.fixture
def ada(db):
    return make_person("ada_ahead", "lead")


def shown(client, key, row):
    return as_sent(client.get(reverse(f"shop:{key}_row", args=[row.pk])).context["form"])


def change(row, by, **fields):
    now = type(row).objects.get(pk=row.pk)
    for name, value in fields.items():
        setattr(now, name, value)
    actions.save(now, by=by)


@pytest.mark.parametrize(("key", "field"), WORDS.items(), ids=WORDS)
def test_the_second_to_save_sees_what_the_first_saved_and_loses_nothing(client, lead, ada, key, field):
    row = kept(ROWS[key]())
    client.force_login(lead)
    typed = shown(client, key, row)
    change(row, ada, **{field: "what Ada typed"})
    page = client.post(reverse(f"shop:{key}_row", args=[row.pk]), {**typed, field: "what I typed"})
    assert page.status_code == 422
    assert getattr(type(row).objects.get(), field) == "what Ada typed"
    assert "Ada Ahead saved this while you had it open" in page.text
    assert "what I typed" in page.text
    assert "what Ada typed" in page.text


@pytest.mark.parametrize(("key", "field"), WORDS.items(), ids=WORDS)
def test_sent_again_it_is_saved(client, lead, ada, key, field):
    row = kept(ROWS[key]())
    client.force_login(lead)
    typed = shown(client, key, row)
    change(row, ada, **{field: "what Ada typed"})
    address = reverse(f"shop:{key}_row", args=[row.pk])
    again = client.post(address, {**typed, field: "what I typed"}).context["form"]
    assert client.post(address, as_sent(again)).status_code == 302
    assert getattr(type(row).objects.get(), field) == "what I typed"


def test_a_ticked_field_keeps_what_the_first_saved_and_the_rest_is_mine(client, lead, ada):
    tool = kept(a_tool())
    client.force_login(lead)
    typed = shown(client, "crib", tool)
    change(tool, ada, diameter="9.8 mm", note="reground")
    address = reverse("shop:crib_row", args=[tool.pk])
    again = client.post(address, {**typed, "diameter": "9.9 mm", "on_hand": "4"}).context["form"]
    client.post(address, {**as_sent(again), "take": ["diameter"]})
    now = Tool.objects.get()
    assert (str(now.diameter), now.note, now.on_hand) == ("9.8 mm", "reground", 4)


def test_a_house_rule_changed_meanwhile_is_shown_beside_what_was_typed(client, lead, ada):
    client.force_login(lead)
    form = next(
        rule.form for rule in client.get(reverse("shop:house_rules")).context["rules"] if rule.key == "hss_plunge_most"
    )
    actions.change_house_rule("hss_plunge_most", text="5", reason="new drills", by=ada)
    typed = {"hss_plunge_most-text": "6", "hss_plunge_most-reason": "mine", form.seen_name: form.seen_state}
    page = client.post(reverse("shop:house_rule", args=["hss_plunge_most"]), typed)
    assert page.status_code == 422
    assert "Ada Ahead saved this" in page.text
    assert queries.changed_rules() == {"hss_plunge_most": "5"}


def test_the_shops_name_changed_meanwhile_is_shown_with_who_changed_it(client, lead, ada):
    client.force_login(lead)
    shown_with = as_sent(client.get(reverse("shop:facts")).context["form"])
    change_shop_settings(name="Ada's Mill", address="1 Main Street", by=ada)
    page = client.post(reverse("shop:facts"), {**shown_with, "name": "My Mill"})
    assert page.status_code == 422
    assert "Ada Ahead saved this while you had it open" in page.text
