"""Control profiles as the shop's own: copied, changed, carried as files, bound to machines, in the history."""

import io
import json
from dataclasses import replace

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.urls import reverse

from shopflow.core import nc
from shopflow.core.types import ControlMacro, DecimalRule, MacroEnd
from shopflow.records import ledger
from shopflow.shop import actions, changes, control_actions, queries
from shopflow.shop.actions import InUse
from shopflow.shop.control_forms import ControlForm
from shopflow.shop.control_settings import SETTINGS, said, said_of_text
from shopflow.shop.models import ControlProfile, Machine
from tests.people_fixtures import make_person
from tests.sending import as_sent
from tests.shop.objects import a_machine, kept

CALCULATOR = nc.CONTROLS["calculator"]


def ours(by, name="mill-2", source="calculator"):
    return control_actions.copy_control(source, name=name, title="Mill 2", reason="its manual", by=by)


def change(row, by, name="", **settings):
    now = queries.core_control(row)
    changed = replace(now, **settings, **({"name": name} if name else {}))
    return control_actions.change_control(row, changed, reason="seen at the machine", by=by)


def test_every_setting_of_a_profile_stands_on_the_page_once():
    assert set(SETTINGS) == set(nc.control_values.settings())


@pytest.mark.parametrize("profile", nc.CONTROLS.values(), ids=nc.CONTROLS)
def test_every_setting_is_said_in_words(profile):
    assert all(said(name, profile) not in ("", "True", "False") for name in SETTINGS)


def test_a_copy_says_what_its_source_says(lead):
    profile = queries.core_control(ours(lead))
    assert replace(profile, name=CALCULATOR.name, title=CALCULATOR.title) == CALCULATOR


def test_a_copy_of_a_changed_profile_keeps_its_changes(lead):
    row = change(ours(lead), lead, dwell_in_ms=False)
    assert queries.core_control(ours(lead, "mill-3", row.name)).dwell_in_ms is False


@pytest.mark.parametrize("name", ["calculator", "taken"])
def test_a_name_that_is_there_is_refused(lead, name):
    ours(lead, "taken")
    with pytest.raises(ValidationError, match="name"):
        ours(lead, name)


def test_only_what_differs_from_the_built_in_profile_is_kept(lead):
    row = change(ours(lead), lead, dwell_in_ms=False, macros=True)
    assert row.changes == {"dwell_in_ms": False}


def test_a_viewer_changes_no_profile(lead, viewer):
    row = ours(lead)
    for act in (lambda: ours(viewer, "x"), lambda: change(row, viewer, macros=False),
                lambda: control_actions.remove_control(row, reason="x", by=viewer)):  # fmt: skip
        with pytest.raises(PermissionDenied):
            act()


def test_a_change_without_a_reason_is_refused(lead):
    row = ours(lead)
    with pytest.raises(ValidationError, match="Say why"):
        control_actions.change_control(row, replace(queries.core_control(row), macros=False), reason=" ", by=lead)
    row.refresh_from_db()
    assert row.changes == {}


def test_a_change_is_announced_and_kept_with_who_what_and_why(lead, monkeypatch):
    row = ours(lead)
    heard = []
    monkeypatch.setattr(changes, "_listeners", [lambda by, jobs: heard.append(by)])
    change(row, lead, peck_retract_mm=0.75)
    assert heard == [lead]
    kept_change = queries.control_changes(row).first()
    assert (kept_change.before, kept_change.after) == ({"peck_retract_mm": 0.5}, {"peck_retract_mm": 0.75})
    assert (kept_change.reason, kept_change.changed_by) == ("seen at the machine", lead)
    told = ledger.rows_for(ledger.SHOP).get(kind="control_profile_changed")
    assert (told.by, told.data["after"]) == (lead, {"peck_retract_mm": "0.75"})


def test_the_ledger_keeps_no_free_text_of_a_profile(lead):
    row = ours(lead)
    change(row, lead, control_macros=(ControlMacro("9810", "Quinn's probe"),), title="Quinn's mill")
    assert "Quinn" not in "".join(ledger.rows_for(ledger.SHOP).values_list("payload", flat=True))


def test_saved_unchanged_it_leaves_no_trace(lead):
    row = ours(lead)
    before = ledger.head(ledger.SHOP).seq
    change(row, lead)
    assert ledger.head(ledger.SHOP).seq == before


def test_a_profile_that_a_machine_uses_is_not_renamed(lead):
    row = ours(lead)
    kept(a_machine("Big Mill", control="mill-2"))
    with pytest.raises(InUse, match="Big Mill uses this profile"):
        change(row, lead, name="mill-9")


def test_a_profile_that_a_machine_uses_is_not_removed(lead):
    row = ours(lead)
    kept(a_machine("Big Mill", control="mill-2"))
    with pytest.raises(InUse, match="Give them another profile first"):
        control_actions.remove_control(row, reason="unused", by=lead)
    assert ControlProfile.objects.exists()


def test_a_profile_that_no_machine_uses_is_removed_with_a_trace(lead):
    control_actions.remove_control(ours(lead), reason="never used", by=lead)
    assert not ControlProfile.objects.exists()
    assert ledger.rows_for(ledger.SHOP).filter(kind="control_profile_removed").exists()


def test_a_machine_reads_by_the_shops_own_profile(lead):
    change(ours(lead), lead, decimal_rule=DecimalRule.INCREMENT)
    machine = actions.save(a_machine(control="mill-2"), by=lead).row
    assert queries.core_machine(machine).control.decimal_rule is DecimalRule.INCREMENT


def test_a_file_makes_the_profile_in_another_shop(lead):
    row = change(ours(lead), lead, macros=False)
    text = nc.write_control(queries.core_control(row), based_on=row.based_on)
    before = queries.core_control(row)
    control_actions.remove_control(row, reason="moved", by=lead)
    made = control_actions.take_control_file(nc.read_control(text.encode()), reason="from the other shop", by=lead)
    assert queries.core_control(made) == before


def test_a_file_changes_a_profile_only_where_that_is_wanted(lead):
    row = ours(lead)
    file = nc.ControlFile(replace(queries.core_control(row), macros=False), "calculator")
    with pytest.raises(ValidationError, match="already"):
        control_actions.take_control_file(file, reason="x", by=lead)
    control_actions.take_control_file(file, reason="x", by=lead, is_replacing=True)
    assert queries.control_profile("mill-2").macros is False


def test_the_form_sent_back_as_shown_says_the_same(lead):
    macro = ControlMacro("9810", "protected move", MacroEnd.AXIS_WORDS, (100, 135), "along its axis words")
    row = change(ours(lead), lead, control_macros=(macro,), aliases=(("G70", "G20"),), coolant_codes=(("M88", 5),),
                 stop_codes=frozenset({"M60"}), arc_tolerance_share=0.002, line_length=80)  # fmt: skip
    profile = queries.core_control(row)
    shown = ControlForm(profile=profile, based_on=row.based_on)
    form = ControlForm({**as_sent(shown), "reason": "none"}, profile=profile, based_on=row.based_on)
    assert form.is_valid(), form.errors
    assert form.profile == profile


def typed_into(client, profile, /, **typed):
    address = reverse("shop:control_change", args=[profile])
    shown = as_sent(client.get(address).context["form"])
    return client.post(address, {**shown, "reason": "manual, page 12", **typed})


def test_a_macro_is_described_on_the_page(client, lead):
    ours(lead)
    client.force_login(lead)
    described = {"macro0_call": "9811", "macro0_title": "probe a bore", "macro0_moves": "X and Y inside the bore",
                 "macro0_ends": MacroEnd.START.value, "macro0_sets": "#135, 136"}  # fmt: skip
    assert typed_into(client, "mill-2", **described).status_code == 302
    macro = queries.control_profile("mill-2").control_macros[0]
    assert macro == ControlMacro("9811", "probe a bore", MacroEnd.START, (135, 136), "X and Y inside the bore")


def test_a_described_macro_is_read_in_a_program(client, lead):
    row = change(ours(lead), lead, control_macros=(ControlMacro("9811", "probe a bore", MacroEnd.START),))
    program = b"O1\nG21 G90 G54 G0 X1 Y2\nG65 P9811 D10.\nX3\nM30\n"
    assert not nc.read(program, control=queries.core_control(row)).unread
    assert nc.read(program, control=CALCULATOR).unread


def test_a_macro_is_taken_out_on_the_page(client, lead):
    macros = (ControlMacro("9810", "one"), ControlMacro("9811", "two"))
    change(ours(lead), lead, control_macros=macros)
    client.force_login(lead)
    typed_into(client, "mill-2", macro0_out="on")
    assert [macro.call for macro in queries.control_profile("mill-2").control_macros] == ["9811"]


@pytest.mark.parametrize(
    ("field", "text", "said"),
    [
        ("peck_retract_mm", "wide", "is no number"),
        ("aliases", "G70", "= and what it means"),
        ("coolant_codes", "M88 = hot", "none of"),
        ("harmless_codes", "smooth", "no G or M code"),
        ("stop_codes", "G4", "no M code"),
        ("macro0_title", "a macro without a call", "behind G65 P"),
        ("macro0_call", "probe", "Type the number behind G65 P"),
        ("name", "Mill 2", "Small letters"),
        ("reason", "", "required"),
    ],
)
def test_what_cannot_be_is_refused_and_stays_typed(client, lead, field, text, said):
    ours(lead)
    client.force_login(lead)
    page = typed_into(client, "mill-2", **{field: text})
    assert page.status_code == 422
    assert said in page.text
    assert f'value="{text}"' in page.text
    assert ControlProfile.objects.get().changes == {}


def test_a_profile_saved_meanwhile_is_shown_beside_what_was_typed(client, lead):
    row = ours(lead)
    client.force_login(lead)
    address = reverse("shop:control_change", args=["mill-2"])
    shown = as_sent(client.get(address).context["form"])
    change(row, make_person("ada_ahead", "lead"), peck_retract_mm=0.75)
    page = client.post(address, {**shown, "peck_retract_mm": "0.9", "reason": "mine"})
    assert page.status_code == 422
    assert "Ada Ahead saved this" in page.text
    assert queries.control_profile("mill-2").peck_retract_mm == 0.75


def test_renaming_a_used_profile_is_refused_beside_the_name(client, lead):
    ours(lead)
    kept(a_machine("Big Mill", control="mill-2"))
    client.force_login(lead)
    page = typed_into(client, "mill-2", name="mill-9")
    assert page.status_code == 422
    assert "Big Mill uses this profile" in page.text


def test_the_history_says_what_changed_in_words(client, lead):
    change(ours(lead), lead, stop_stops_spindle=True)
    client.force_login(lead)
    page = client.get(reverse("shop:control", args=["mill-2"])).text
    assert "M00 and M01: leave spindle and coolant on: the program must stop them → stop spindle and" in page
    assert "seen at the machine" in page


def test_a_machine_chooses_among_built_in_and_own_profiles(client, lead):
    ours(lead)
    machine = kept(a_machine())
    client.force_login(lead)
    address = reverse("shop:machines_row", args=[machine.pk])
    shown = as_sent(client.get(address).context["form"])
    assert client.post(address, {**shown, "control": "mill-2"}).status_code == 302
    assert Machine.objects.get().control == "mill-2"


def a_file(text):
    file = io.BytesIO(text.encode())
    file.name = "mill.control.json"
    return file


def test_the_file_of_a_profile_is_taken_by_the_page(client, lead):
    row = change(ours(lead), lead, macros=False)
    client.force_login(lead)
    text = client.get(reverse("shop:control_file", args=["mill-2"])).text
    control_actions.remove_control(row, reason="x", by=lead)
    sent = {"file": a_file(text), "reason": "from the other shop"}
    assert client.post(reverse("shop:control_read"), sent).status_code == 302
    assert queries.control_profile("mill-2").macros is False


def test_a_file_that_would_change_a_profile_is_shown_first(client, lead):
    change(ours(lead), lead, macros=False)
    client.force_login(lead)
    given = json.loads(client.get(reverse("shop:control_file", args=["mill-2"])).text)
    given["settings"]["macros"] = True
    address = reverse("shop:control_read")
    page = client.post(address, {"file": a_file(json.dumps(given)), "reason": "newer"})
    assert (page.status_code, queries.control_profile("mill-2").macros) == (422, False)
    assert "are not read → are read" in page.text
    again = {"text": page.context["text"], "is_replacing": "true", "reason": "newer"}
    assert client.post(address, again).status_code == 302
    assert queries.control_profile("mill-2").macros is True


@pytest.mark.parametrize("text", ["", "O1\nM30\n", '{"control_profile": 1}'])
def test_a_file_that_is_no_profile_is_refused_with_a_sentence(client, lead, text):
    client.force_login(lead)
    page = client.post(reverse("shop:control_read"), {"file": a_file(text), "reason": "x"})
    assert page.status_code == 422
    assert "field-error" in page.text


def test_a_built_in_profile_is_not_changed(client, lead):
    client.force_login(lead)
    assert client.get(reverse("shop:control_change", args=["calculator"])).status_code == 404


def test_a_setting_kept_as_text_is_said_in_the_words_of_its_choices():
    assert said_of_text("macros", "False") == "are not read"
    assert said_of_text("decimal_rule", "increment") == "X10 is ten least increments"
    assert said_of_text("default_cycle_return", "99") == "returns to R (G99)"
    assert said_of_text("peck_retract_mm", "0.5") == "0.5"
