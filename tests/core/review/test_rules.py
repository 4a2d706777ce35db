"""Each rule notices what it is for, and nothing where it is not."""

from dataclasses import replace
from decimal import Decimal

import pytest

from shopflow.core import nc, review
from shopflow.core.cutting.time import TYPICAL_MACHINE
from shopflow.core.review import HouseRules, PersonTouch, PlanFacts, Weight
from shopflow.core.types import Tool, ToolMaterial, ToolShape
from tests.core.nc.reading_help import CALCULATOR, sample

HEAD = "O1\nG17 G21 G40 G49 G80 G90 G54 G94\nT1 M6\nG0 G43 H1 Z50. S1000 M3\n"
TAIL = "\nG0 Z50.\nM5\nM30"
CRIB = {
    1: Tool(1, "10 mm end mill", ToolShape.FLAT, 10.0),
    2: Tool(2, "5 mm drill", ToolShape.DRILL, 5.0, material=ToolMaterial.HSS),
    3: Tool(3, "5 mm drill", ToolShape.DRILL, 5.0, material=ToolMaterial.CARBIDE),
    4: Tool(4, "probe", ToolShape.PROBE, 6.0),
    5: Tool(5, "face mill", ToolShape.FACE, 80.0, max_rpm=2000.0),
}
MACHINE = replace(TYPICAL_MACHINE, name="mill 1", travel_mm=(400.0, 300.0, 300.0), max_rpm=6000.0, min_rpm=100.0)


def findings(text, *, machine=MACHINE, tools=CRIB, plan=None, rules=None, control=CALCULATOR):
    program = nc.read(text.encode(), control=control)
    return review.run(program, machine=machine, tools=tools, plan=plan, house_rules=rules)


HINTS = {"stop-says-nothing"}
"""A note that the bare stops of these tests all earn; it has a test of its own."""


def without_hints(found):
    return [finding for finding in found if finding.code not in HINTS]


def codes(body, *, tail=TAIL, **options):
    return [finding.code for finding in without_hints(findings(HEAD + body + tail, **options))]


def sole(body, **options):
    found = without_hints(findings(HEAD + body + TAIL, **options))
    assert len(found) == 1, [finding.message for finding in found]
    return found[0]


def test_a_clean_program_has_no_finding():
    assert codes("G1 X10. F100.") == []


def test_every_word_that_is_not_read_is_a_finding_with_its_line():
    found = [
        finding for finding in findings(HEAD + "G1 X10. F100. Q1\nG999\n?" + TAIL) if finding.code == "unread-word"
    ]
    assert [finding.lines for finding in found] == [(5,), (6,), (7,)]
    assert {finding.weight for finding in found} == {Weight.MUST_FIX}


def test_a_missing_feed_has_its_own_code():
    assert sole("G1 X10.").code == "feed-not-stated"


def test_no_program_end_is_noticed():
    assert "no-program-end" in [finding.code for finding in findings(HEAD + "G1 X1. F100.")]


def test_a_program_that_moves_nothing_is_noticed():
    assert "no-motion" in [finding.code for finding in findings("O1\nM30")]


def test_units_that_are_assumed_need_a_decision():
    found = {finding.code: finding.weight for finding in findings("O1\nG90 G54 G0 X1.\nM30")}
    assert found["units-not-stated"] is Weight.DECIDE


def test_feed_with_the_spindle_stopped_is_one_finding_a_stretch():
    finding = sole("M5\nG1 X10. F100.\nX20.\nG0 X30.")
    assert (finding.code, finding.lines, finding.tool) == ("spindle-stopped", (6, 7), 1)


def test_feed_with_the_spindle_at_zero_is_noticed():
    assert "spindle-stopped" in codes("S0\nG1 X10. F100.")


def test_a_probe_need_not_turn():
    assert "spindle-stopped" not in codes("G0 Z60.\nM5\nT4 M6\nG43 H4 Z50.\nG1 X10. F100.")


def test_a_tool_not_in_the_crib_is_noticed():
    finding = next(
        finding for finding in findings(HEAD + "T9 M6\nG43 H9 Z50." + TAIL) if finding.code == "tool-unknown"
    )
    assert (finding.tool, finding.lines, finding.weight) == (9, (6,), Weight.MUST_FIX)


def test_feeding_without_any_tool_called_needs_a_decision():
    text = "O1\nG17 G21 G40 G80 G90 G54 G94\nG0 G43 H1 Z50. S1000 M3\nG1 X1. F100." + TAIL
    assert [finding.code for finding in findings(text)] == ["no-tool-called"]


def test_cutting_without_length_offset_is_noticed():
    finding = sole("G49\nG1 X10. F100.\nX20.")
    assert (finding.code, finding.lines, finding.weight) == ("no-length-offset", (6,), Weight.MUST_FIX)


def test_the_length_offset_of_another_tool_is_noticed():
    finding = sole("G43 H7 Z50.\nG1 X10. F100.")
    assert (finding.code, finding.measured, finding.limit) == ("length-offset-of-another", 7.0, 1.0)


def test_a_house_may_shift_its_length_offsets():
    rules = HouseRules({"length_offset_shift": Decimal(20)})
    assert codes("G43 H21 Z50.\nG1 X10. F100.", rules=rules) == []


@pytest.mark.parametrize(
    ("body", "code", "measured", "limit", "unit"),
    [
        ("S6001\nG1 X1. F100.", "rpm-over-machine", 6001.0, 6000.0, "rpm"),
        ("S99\nG1 X1. F100.", "rpm-under-machine", 99.0, 100.0, "rpm"),
        ("G1 X1. F10001.", "feed-over-machine", 10001.0, 10000.0, "mm/min"),
        ("G0 X0. Y0.\nX400.1", "travel-over-machine", 400.1, 400.0, "mm"),
        ("G0 X0. Y0.\nY-300.5", "travel-over-machine", 300.5, 300.0, "mm"),
        ("G0 X0. Y0.\nG3 X0. Y0. I-200.5 F100.", "travel-over-machine", 401.0, 400.0, "mm"),
    ],
)
def test_what_the_machine_cannot_do_is_noticed(body, code, measured, limit, unit):
    finding = next(finding for finding in findings(HEAD + body + TAIL) if finding.code == code)
    assert finding.measured == pytest.approx(measured)
    assert (finding.limit, finding.unit) == (limit, unit)
    assert "mill 1" in finding.basis


@pytest.mark.parametrize("body", ["S6000\nG1 X1. F10000.", "S100\nG1 X1. F100.", "G0 X0. Y0.\nX400. Y300."])
def test_what_the_machine_can_just_do_is_no_finding(body):
    assert codes(body) == []


def test_a_speed_over_the_tool_is_noticed():
    found = findings(HEAD + "M5\nT5 M6\nG43 H5 Z50. S2100 M3\nG1 X1. F100." + TAIL)
    assert [(finding.code, finding.tool, finding.limit) for finding in found] == [("rpm-over-tool", 5, 2000.0)]


def drill(tool, depth, cycle="G81"):
    return f"M5\nT{tool} M6\nG43 H{tool} Z50. S1000 M3\nG0 X0. Y0.\n{cycle} Z-{depth} R0. F100.\nG80"


@pytest.mark.parametrize(
    ("depth", "weight"), [("15.", None), ("15.1", Weight.DECIDE), ("25.", Weight.DECIDE), ("25.1", Weight.MUST_FIX)]
)
def test_a_high_speed_steel_drill_that_plunges_deep_is_noticed(depth, weight):
    """peck-rules.csv: usually no pecking to 3 × D, simple cycle to 5 × D."""
    found = [finding for finding in findings(HEAD + drill(2, depth) + TAIL) if finding.code == "plunge-too-deep"]
    assert [finding.weight for finding in found] == ([weight] if weight else [])


def test_a_carbide_drill_may_plunge():
    assert "plunge-too-deep" not in codes(drill(3, "40."))


def test_a_drill_that_pecks_is_no_finding():
    assert "plunge-too-deep" not in codes(drill(2, "40.", "G83 Q5."))


def test_a_peck_longer_than_the_rule_is_noticed():
    assert "plunge-too-deep" in codes(drill(2, "40.", "G83 Q20."))


def test_a_plunge_without_cycle_is_noticed():
    assert "plunge-too-deep" in codes("M5\nT2 M6\nG43 H2 Z50. S1000 M3\nG0 X0. Y0. Z0.\nG1 Z-30. F100.\nG0 Z50.")


def test_the_shops_own_limit_counts():
    rules = HouseRules({"hss_plunge_decide": Decimal(2)})
    finding = next(f for f in findings(HEAD + drill(2, "12.") + TAIL, rules=rules) if f.code == "plunge-too-deep")
    assert (finding.limit, finding.basis) == (10.0, "this shop's house rule")


def test_a_stop_in_the_cut_is_noticed():
    finding = sole("G1 X0. Z-1. F100.\nX10.\nM5\nM0")
    assert (finding.code, finding.lines) == ("stop-without-retract", (8,))


def test_a_stop_below_the_house_rule_needs_a_decision():
    finding = sole("G0 Z0.\nG1 X10. F100.\nG0 Z24.\nM5\nM0")
    assert (finding.code, finding.measured, finding.limit) == ("stop-too-low", 24.0, 25.0)


@pytest.mark.parametrize("stop", ["M0", "M1"])
def test_a_stop_with_the_spindle_on_is_noticed(stop):
    assert sole(f"{stop}").code == "stop-with-spindle-on"


def test_a_stop_with_the_coolant_on_is_noticed():
    assert sole("M8\nM5\nM0\nM9").code == "stop-with-coolant-on"


TURN = PlanFacts((PersonTouch(1, "turn the part over", "G54", "G55"),), ("G54", "G55"))
FIRST, SECOND = "G0 Z0.\nG1 X1. F100.\nG0 Z50.\n", "G55\nG0 X1. Y0. Z50.\n"


@pytest.mark.parametrize(
    ("body", "expected"),
    [
        (FIRST + "M5\nM0\nM3\n" + SECOND, []),
        (FIRST + SECOND, ["no-stop"]),
        (FIRST + "M5\nM1\nM3\n" + SECOND, ["stop-only-optional"]),
        ("M5\nM0\nM3\n" + FIRST + SECOND, ["no-stop"]),
        (FIRST + SECOND + "M5\nM0", ["no-stop"]),
    ],
)
def test_a_stop_must_stand_where_the_plan_has_a_person_touch_the_part(body, expected):
    assert codes(body, plan=TURN) == expected


def test_two_touches_need_two_stops():
    plan = PlanFacts((PersonTouch(1, "turn"), PersonTouch(2, "turn again")), ("G54",))
    assert codes("M5\nM0", plan=plan) == ["no-stop"]


def test_a_work_offset_that_is_not_planned_is_noticed():
    finding = sole("G0 Z50.\n" + SECOND, plan=PlanFacts(work_offsets=("G54",)))
    assert (finding.code, finding.lines) == ("offset-not-planned", (7,))


def test_a_planned_work_offset_that_is_never_used_is_noticed():
    assert sole("G1 X1. F100.", plan=PlanFacts(work_offsets=("G54", "G56"))).code == "offset-not-used"


def test_what_could_not_be_checked_is_said():
    assert codes("G1 X1. F100.", machine=None, tools=None) == ["machine-not-chosen", "tools-not-given"]


def test_the_heaviest_findings_come_first():
    weights = [finding.weight for finding in findings("O1\nG0 X1.\nG1 X2.\n?")]
    assert weights == sorted(weights, key=[Weight.MUST_FIX, Weight.DECIDE, Weight.NOTE].index)


def test_a_finding_keeps_its_key_when_lines_move():
    body = "G1 X10. F10001."
    one, two = sole(body), sole("(a comment more)\n" + body)
    assert one.lines != two.lines
    assert one.key == two.key


@pytest.mark.parametrize("body", ["G1 X10. F10002.", "G1 X11. F10001."])
def test_a_finding_about_another_text_or_value_has_another_key(body):
    assert sole("G1 X10. F10001.").key != sole(body).key


def test_an_unknown_house_rule_is_refused():
    with pytest.raises(ValueError, match="no such house rule"):
        HouseRules({"hss_plunge": Decimal(3)})


def test_every_house_rule_says_where_it_comes_from():
    assert all(rule.basis and rule.title for rule in review.house_rules.DEFAULTS)


def test_the_plunged_sample_is_found_out():
    program = nc.read(sample("bracket_plunged.nc"), control=CALCULATOR)
    tools = {5: replace(CRIB[2], number=5, diameter_mm=5.105), 6: CRIB[1]}
    found = {finding.code: finding.lines for finding in review.run(program, machine=MACHINE, tools=tools)}
    assert found == {"plunge-too-deep": (7, 8, 9), "cuts-dry": (18,)}


WET = "M8\nG1 X10. F100.\nG0 Z50. M9\nM5\nT2 M6\nG43 H2 Z50. S900 M3\n"


def test_a_tool_that_cuts_dry_beside_one_with_coolant_needs_a_decision():
    finding = sole(WET + "G1 X20. F100.")
    assert (finding.code, finding.tool, finding.weight, finding.lines) == ("cuts-dry", 2, Weight.DECIDE, (11,))


def test_a_program_without_any_coolant_is_not_asked_about_it():
    assert codes("G1 X10. F100.") == []


def test_a_tool_that_has_coolant_for_a_part_of_its_cut_is_not_asked_about():
    assert codes(WET + "G1 X20. F100.\nM8\nX30.\nM9") == []


def test_a_number_beyond_the_carousel_needs_a_decision():
    small = replace(MACHINE, carousel=1)
    finding = sole("G1 X10. F100.\nG0 Z50.\nM5\nT2 M6\nG43 H2 Z40. S900 M3\nG1 X12. F100.", machine=small)
    assert (finding.code, finding.tool, finding.measured, finding.limit) == ("tool-without-pocket", 2, 2.0, 1.0)


def test_compensation_that_is_cancelled_without_a_move_before_the_end_is_no_finding():
    on = "G1 G41 D1 X10. F100.\nX20."
    assert "compensation-left-on" in codes(on)
    assert "compensation-left-on" not in codes(on, tail="\nG40\nG0 Z50.\nM5\nM30")
    assert "compensation-left-on" not in codes(on, tail="\nG0 Z50.\nG40\nM5\nM30")


@pytest.mark.parametrize(
    ("order", "is_told"),
    [((1, 2), False), ((2, 1), True), ((1, 2, 1), False), ((1, 1, 2), False), ((2, 1, 2), True), ((7, 2), False)],
)
def test_tools_out_of_the_order_of_the_plan_are_told_even_where_it_names_one_again(order, is_told):
    found = codes("G1 X1. F100.\nG0 Z50.\nT2 M6\nG43 H2 S900 M3\nG0 X5.", plan=PlanFacts(order=order))
    assert ("tools-in-other-order" in found) == is_told


@pytest.mark.parametrize(
    ("first", "body", "missing"),
    [
        ("G40 G80", "", ""),
        ("", "", "G40, G80"),
        ("G40 G0", "", ""),
        ("G40 G80", "G18\nG17\n", ""),
        ("G41 D1 G80", "", ""),
        ("G40 G80", "G95\nG94\n", "G94"),
    ],
)
def test_modes_that_no_line_before_the_first_move_cancels_are_named(first, body, missing):
    text = f"O1\nG21 G90 G54 {first}\nG43 H1 Z50. S1000 M3\n{body}G1 X1. F100." + TAIL
    told = [one for one in findings(text) if one.code == "modes-not-given"]
    assert [f"does not give {missing}:" in one.message for one in told] == ([True] if missing else [])


@pytest.mark.parametrize(("value", "weights"), [(0, []), (1, [Weight.NOTE]), (2, [Weight.DECIDE])])
def test_a_house_says_how_much_the_head_of_a_program_weighs(value, weights):
    rules = HouseRules({"head_modes": Decimal(value)})
    told = findings("O1\nG21 G90 G54\nG43 H1 Z50.\nG1 X1. F100." + TAIL, rules=rules)
    assert [one.weight for one in told if one.code == "modes-not-given"] == weights


@pytest.mark.parametrize(
    ("orders", "told"),
    [
        ((("G54", (1, 2)), ("G55", (2, 1))), [(1, "in G55")]),
        ((("G54", (1, 2)), ("G55", (1, 2))), []),
        ((("G54", (2, 1)), ("G55", (1,))), [(1, "in G54")]),
    ],
)
def test_the_order_of_tools_is_asked_of_each_setup_by_itself(orders, told):
    each = [
        f"T{tool} M6\n{offset} G0 X1. Y1.\nG43 H{tool} Z50. S900 M3\n" for offset in ("G54", "G55") for tool in (1, 2)
    ]
    found = findings("O1\nG17 G21 G40 G49 G80 G90 G94\n" + "".join(each) + "M5\nM30", plan=PlanFacts(orders=orders))
    mine = [one for one in found if one.code == "tools-in-other-order"]
    assert [(one.tool, where in one.message) for one, (_, where) in zip(mine, told, strict=True)] == [
        (tool, True) for tool, _ in told
    ]
