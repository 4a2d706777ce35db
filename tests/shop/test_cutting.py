"""The shop's own speeds and feeds, and the page that says what would be taken."""

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from shopflow.core.cutting.data import suggest
from shopflow.core.types import Tool, ToolShape, ToolUse
from shopflow.shop import queries
from tests.shop.objects import a_cutting_row, a_machine, a_material, a_tool, kept

pytestmark = pytest.mark.django_db


def look_up(client, **asked):
    return client.get(reverse("shop:cutting_defaults"), asked)


@pytest.fixture
def asked(client, viewer):
    client.force_login(viewer)
    rows = {"material": kept(a_material()), "tool": kept(a_tool()), "machine": kept(a_machine())}
    return {"use": "rough", **{name: row.pk for name, row in rows.items()}}


def test_feet_a_minute_become_metres_a_minute():
    row = a_cutting_row(speed_usual="1000", speed_unit="ft/min")
    assert row.as_core().speed_m_min.usual == pytest.approx(304.8)


def test_a_feed_typed_in_inches_is_taken_in_millimetres():
    row = kept(a_cutting_row(feed_usual=".004 in"))
    assert row.as_core().feed_mm.usual == pytest.approx(0.1016)


def test_the_shop_s_own_number_is_what_a_plan_takes():
    kept(a_cutting_row(speed_usual="444"))
    mill = Tool(1, "mill", ToolShape.FLAT, 10.0)
    made = suggest(a_material().as_core(), mill, ToolUse.ROUGH, own=queries.own_cutting_data())
    assert made.speed_m_min.usual == 444.0
    assert made.source.startswith("speed: this shop's own: tried on Alder")


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"speed_usual": None}, "speed_usual"),
        ({"speed_low": "500"}, "speed_usual"),
        ({"speed_usual": None, "speed_high": "500"}, "speed_usual"),
        ({"feed_usual": "0.1 mm", "feed_high": "0.05 mm"}, "feed_usual"),
        ({"speed_usual": "-3"}, "speed_usual"),
        ({"reason": ""}, "reason"),
        ({"uses": []}, "uses"),
    ],
)
def test_numbers_that_cannot_be_are_refused_at_their_field(typed, field):
    with pytest.raises(ValidationError) as refusal:
        a_cutting_row(**typed).full_clean()
    assert field in refusal.value.error_dict


def test_a_new_row_is_offered_the_next_free_number(client, lead):
    kept(a_cutting_row(number=7))
    client.force_login(lead)
    assert client.get(reverse("shop:cutting_add")).context["form"]["number"].value() == 8


def test_the_look_up_says_speed_feed_window_and_source(client, asked):
    page = look_up(client, **asked)
    assert "an end mill maker&#x27;s guidelines" in page.text
    assert "the machine&#x27;s highest rpm, 8000" in page.text


def test_the_look_up_answers_an_inch_person_in_feet_and_inches(client, asked, viewer):
    viewer.units = "in"
    viewer.save()
    page = look_up(client, **asked, depth=".1", width=".2")
    assert "ft/min" in page.text and "in/min" in page.text


def test_the_look_up_refuses_a_depth_that_is_no_length(client, asked):
    assert "is not a length" in look_up(client, **asked, depth="wide").text


def test_the_look_up_of_a_tap_is_about_tapping_only(client, asked):
    asked["tool"] = kept(a_tool(2, shape="tap", pitch="1 mm")).pk
    assert "the tap&#x27;s pitch" in look_up(client, **asked | {"use": "tap"}).text


def test_published_rows_of_a_group_are_listed(client, asked):
    page = look_up(client, group="titanium")
    assert "an end mill chart 15 to 76" in page.text


def test_a_row_may_say_nothing_but_a_coolant():
    row = a_cutting_row(speed_usual=None, coolant="dry")
    row.full_clean()
    assert [way.value for way in row.as_core().coolant.usual] == ["dry"]


def test_the_page_of_a_group_says_its_usual_coolant(client, viewer):
    client.force_login(viewer)
    assert "dust makes a grinding paste" in look_up(client, group="cast iron").text
