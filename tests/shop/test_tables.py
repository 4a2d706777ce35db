"""The shop's tables: what is kept, refused, remembered and announced."""

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.urls import reverse

from shopflow.core.measure import parse, parse_quantity
from shopflow.records.models import LedgerRow
from shopflow.shop import actions, changes, queries
from shopflow.shop.models import Gauge, Machine, Material, Tool
from tests.shop.objects import ROWS, a_gauge, a_machine, a_material, a_tool, kept


@pytest.fixture
def announced(monkeypatch):
    """Who was announced, each time."""
    heard = []
    monkeypatch.setattr(changes, "_listeners", [lambda by, jobs: heard.append((by, jobs))])
    return heard


def refused(row):
    with pytest.raises(ValidationError) as refusal:
        row.full_clean()
    return set(refusal.value.error_dict)


@pytest.mark.parametrize("make", ROWS.values(), ids=ROWS)
def test_a_lead_adds_a_row_of_every_table(lead, make):
    assert type(make()).objects.count() == 0
    row = actions.save(make(), by=lead).row
    assert type(row).objects.get() == row


@pytest.mark.parametrize("make", ROWS.values(), ids=ROWS)
def test_a_machinist_changes_no_table(machinist, make):
    with pytest.raises(PermissionDenied):
        actions.save(make(), by=machinist)


def test_an_inspector_changes_gauges(inspector):
    actions.save(a_gauge(), by=inspector)
    assert Gauge.objects.exists()


def test_an_inspector_changes_no_tools(inspector):
    with pytest.raises(PermissionDenied):
        actions.save(a_tool(), by=inspector)


def test_a_length_is_shown_again_as_typed(lead):
    actions.save(a_tool(diameter="1/2 in"), by=lead)
    assert str(Tool.objects.get().diameter) == "1/2 in"
    assert Tool.objects.get().as_core().diameter_mm == 12.7


def test_a_change_says_before_and_after_in_the_history(lead):
    tool = kept(a_tool(diameter="10 mm"))
    tool.diameter = "9.8 mm"
    actions.save(tool, by=lead)
    row = LedgerRow.objects.get()
    assert (row.kind, row.subject, row.data) == (
        "tool_changed",
        ("tool", tool.pk),
        {"before": {"diameter": "10 mm"}, "after": {"diameter": "9.8 mm"}},
    )


def test_saving_without_a_change_leaves_no_trace(lead, announced):
    actions.save(Tool.objects.get(pk=kept(a_tool()).pk), by=lead)
    assert not LedgerRow.objects.exists()
    assert announced == []


def test_a_note_stays_out_of_the_ledger(lead):
    actions.save(a_tool(note="ask Anna Brook"), by=lead)
    assert "Brook" not in LedgerRow.objects.get().payload


@pytest.mark.parametrize("make", [a_tool, a_machine, a_material])
def test_what_a_sign_off_depends_on_is_announced(lead, announced, make):
    actions.save(make(), by=lead)
    assert announced == [(lead, None)]


def test_a_gauge_concerns_no_sign_off(lead, announced):
    actions.save(a_gauge(), by=lead)
    assert announced == []


def test_many_rows_are_announced_once(lead, announced):
    actions.save_all([a_tool(n) for n in range(1, 6)], by=lead)
    assert len(announced) == 1


def test_one_bad_row_of_many_saves_none(lead):
    with pytest.raises(ValidationError):
        actions.save_all([a_tool(1), a_tool(2, diameter="wide")], by=lead)
    assert not Tool.objects.exists()
    assert not LedgerRow.objects.exists()


def test_a_row_that_nothing_refers_to_can_be_removed(lead):
    tool = kept(a_tool())
    actions.remove(tool, by=lead)
    assert not Tool.objects.exists()
    assert LedgerRow.objects.get().kind == "tool_removed"


def test_a_holder_in_use_stays(lead):
    holder = kept(ROWS["holders"]())
    kept(a_tool(holder=holder))
    with pytest.raises(actions.InUse):
        actions.remove(holder, by=lead)


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"diameter": "wide"}, "diameter"),
        ({"diameter": ""}, "diameter"),
        ({"diameter": "0"}, "diameter"),
        ({"flute_length": "40", "stickout": "30"}, "flute_length"),
        ({"corner_radius": "6"}, "corner_radius"),
        ({"shape": "ball end mill", "corner_radius": "2"}, "corner_radius"),
        ({"shape": "corner radius end mill"}, "corner_radius"),
        ({"shape": "drill"}, "point_angle"),
        ({"point_angle": "200"}, "point_angle"),
        ({"shape": "tap"}, "pitch"),
        ({"tip_diameter": "10"}, "tip_diameter"),
        ({"flutes": 0}, "flutes"),
        ({"set_to": "40"}, "set_to"),
        ({"shape": "boring head", "set_to": "9"}, "set_to"),
        ({"shape": "boring head", "set_from": "11"}, "set_from"),
        ({"stickout": "-3", "flute_length": ""}, "stickout"),
    ],
)
def test_a_tool_that_could_not_be_is_refused_at_the_field(db, fields, field):
    assert refused(a_tool(**fields)) == {field}


@pytest.mark.parametrize(
    ("fields", "field"),
    [({"travel_x": "0"}, "travel_x"), ({"min_rpm": 9000}, "min_rpm"), ({"max_feed": 0}, "max_feed")],
)
def test_a_machine_that_could_not_be_is_refused_at_the_field(db, fields, field):
    assert refused(a_machine(**fields)) == {field}


def test_a_machine_with_an_unknown_control_is_refused(lead):
    with pytest.raises(ValidationError) as refusal:
        actions.save(a_machine(control="nothing"), by=lead)
    assert set(refusal.value.error_dict) == {"control"}


@pytest.mark.parametrize("profile", [[["5", "27"]], [["0", "27"], ["40", "27"], ["30", "20"]], [["0", "0"]]])
def test_a_holder_that_could_not_be_is_refused(db, profile):
    holder = ROWS["holders"]()
    holder.profile = profile
    assert refused(holder) == {"profile"}


def test_a_ball_has_the_radius_of_its_diameter(db):
    assert kept(a_tool(shape="ball end mill", diameter="6 mm")).as_core().corner_radius_mm == 3.0


def test_core_tools_are_the_crib_by_number(db):
    kept(a_tool(7)), kept(a_tool(3))
    assert list(queries.core_tools()) == [3, 7]


def test_a_core_machine_carries_its_control_profile(db):
    assert queries.core_machine(kept(a_machine(control="increment"))).control.name == "increment"


def test_a_control_profile_of_the_shops_own_changes_the_one_it_is_based_on(db):
    from shopflow.shop.models import ControlProfile

    ControlProfile.objects.create(name="ours", title="Ours", based_on="calculator", changes={"peck_retract_mm": 1.25})
    profile = queries.control_profile("ours")
    assert (profile.name, profile.peck_retract_mm, profile.macros) == ("ours", 1.25, True)


def test_an_unknown_control_profile_is_refused(db):
    with pytest.raises(LookupError, match="nothing"):
        queries.control_profile("nothing")


@pytest.mark.parametrize(
    ("words", "numbers"),
    [
        ("T6", [6]),
        ("6", [6, 16, 60]),
        ("end", [6, 16, 60]),
        ("16 6", [16]),
        ("drill", []),
        ("6 mm", [6, 16, 60]),
        ("60", [60]),
    ],
)
def test_a_search_finds_whole_numbers_and_parts_of_words(db, words, numbers):
    kept(a_tool(6, name="end mill", diameter="6 mm"))
    kept(a_tool(16, name="end mill with R 6", diameter="16 mm"))
    kept(a_tool(60, name="end mill for tool 6", diameter="8 mm"))
    assert [tool.number for tool in queries.find_tools(words)] == numbers


def test_gauges_out_of_calibration_are_not_measured_with(db):
    from datetime import date

    kept(a_gauge("M-01", calibrated_until=date(2031, 5, 1)))
    kept(a_gauge("M-02"))
    assert [gauge.number for gauge in queries.gauges_in_calibration(date(2031, 5, 1))] == ["M-01"]
    assert not queries.gauges_in_calibration(date(2031, 5, 2))


def test_the_list_shows_lengths_as_typed(client, viewer):
    kept(a_tool(diameter="1/2 in"))
    client.force_login(viewer)
    assert "1/2 in" in client.get(reverse("shop:crib")).text


def test_the_list_asks_the_same_number_of_queries_for_many_rows(client, viewer, django_assert_max_num_queries):
    holder = kept(ROWS["holders"]())
    for n in range(1, 31):
        kept(a_tool(n, holder=holder))
    client.force_login(viewer)
    with django_assert_max_num_queries(6):
        client.get(reverse("shop:crib"))


def test_typing_into_find_gets_the_rows_only(client, viewer):
    kept(a_tool(7))
    client.force_login(viewer)
    part = client.get(reverse("shop:crib"), {"q": "T7"}, headers={"hx-request": "true"}).text
    assert "<html" not in part
    assert "end mill 7" in part


def test_an_empty_table_says_what_to_do_first(client, lead):
    client.force_login(lead)
    assert "Add a tool" in client.get(reverse("shop:crib")).text


def test_a_refused_form_keeps_what_was_typed(client, lead):
    tool = kept(a_tool())
    client.force_login(lead)
    page = client.post(reverse("shop:crib_row", args=[tool.pk]), {"number": "1", "name": "renamed", "diameter": "wide"})
    assert page.status_code == 422
    assert "renamed" in page.text
    assert "“wide” is not a length" in page.text
    assert Tool.objects.get().name == "end mill 1"


@pytest.mark.parametrize("key", ROWS)
def test_a_form_sent_back_as_it_was_shown_changes_nothing(client, lead, key):
    row = kept(ROWS[key]())
    if key == "crib":
        row.holder = kept(ROWS["holders"]())
        row.save()
    client.force_login(lead)
    form = client.get(reverse(f"shop:{key}_row", args=[row.pk])).context["form"]
    typed = {}
    for bound in form:
        value = bound.value()
        if isinstance(value, list):
            typed[bound.html_name] = value
        elif value not in (None, "") and value is not False:
            typed[bound.html_name] = bound.field.prepare_value(value)
    assert client.post(reverse(f"shop:{key}_row", args=[row.pk]), typed).status_code == 302
    assert not LedgerRow.objects.exists()


def test_a_row_shows_its_history(client, lead):
    tool = kept(a_tool())
    tool.on_hand = 4
    actions.save(tool, by=lead)
    client.force_login(lead)
    assert "On hand: 1 → 4" in client.get(reverse("shop:crib_row", args=[tool.pk])).text


@pytest.mark.parametrize("model", [Tool, Machine, Material])
def test_every_field_of_a_row_that_the_core_has_reaches_it(model):
    """The price of a core that knows no database: a field added to one and not to the other shows here."""
    from dataclasses import fields

    from shopflow.core import types

    core = {field.name for field in fields({Tool: types.Tool, Machine: types.Machine, Material: types.Material}[model])}
    units = ("_mm_min", "_mm_s2", "_kw_cm3_min", "_kg_m3", "_mm", "_deg", "_kw", "_s")
    plain = {next((name.removesuffix(unit) for unit in units if name.endswith(unit)), name) for name in core}
    ours = {field.name.removesuffix("_kw").removesuffix("_s") for field in model._meta.get_fields()}
    grouped = {"travel": "travel_x", "rapid": "rapid_x"}
    assert {name for name in plain if grouped.get(name, name) not in ours} == set()


def test_a_changed_note_is_told_without_its_text(client, lead):
    tool = kept(a_tool(note="ask Quinn first"))
    tool.note = "sharpened"
    actions.save(tool, by=lead)
    client.force_login(lead)
    page = client.get(reverse("shop:crib_row", args=[tool.pk])).text
    assert "Note changed" in page
    assert "Quinn" not in page


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({}, "sharp"),
        ({"life": 40, "life_used": 1.5}, "sharp, 38 min left"),
        ({"life": 2, "life_used": 1.6}, "sharp, 0.4 min left"),
        ({"life": 300, "life_used": 310, "life_unit": "holes", "edge": "worn"}, "worn, 0 holes left"),
    ],
)
def test_a_tool_says_how_its_edge_stands(given, said):
    assert a_tool(**given).edge_said == said


@pytest.mark.parametrize(("largest", "words"), [("10 mm", "less than it measures from"), ("30°", "is asked for")])
def test_a_gauge_measures_up_to_more_than_from(largest, words):
    gauge = Gauge(number="M-03", name="micrometer", smallest=parse("25 mm", default_unit="mm"))
    gauge.largest = parse_quantity(largest, default_unit="mm")
    with pytest.raises(ValidationError, match=words):
        gauge.clean()
