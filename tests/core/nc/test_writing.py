"""Floor copies: header and stops put in, everything else the same."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.core import nc
from shopflow.core.errors import NotPossible
from shopflow.core.nc.patch import Patch, apply
from shopflow.core.nc.writing import (
    MachineText,
    PutStop,
    comment_lines,
    file_name,
    floor_copy,
    optional_stops_at_tools,
    prove_same,
)
from shopflow.core.types import Coolant
from tests.core.nc.reading_help import CALCULATOR, run, sample


@pytest.fixture(scope="module")
def bracket():
    return nc.read(sample("bracket_plunged.nc"), control=CALCULATOR)


@pytest.fixture(scope="module")
def plate():
    return nc.read(sample("plate_two_sides.nc"), control=CALCULATOR)


def lines_of(data):
    return data.decode("ascii").split("\r\n")


def test_without_header_and_stops_only_line_ends_change(bracket):
    assert floor_copy(bracket).replace(b"\r\n", b"\n") == sample("bracket_plunged.nc")


def test_the_header_stands_behind_the_program_number(bracket):
    copy = lines_of(floor_copy(bracket, header=["Job 12, op 20", "rev B"]))
    assert copy[:4] == ["%", "O0042 (BRACKET, HOLES ONLY)", "(JOB 12, OP 20)", "(REV B)"]


def test_the_header_stands_first_in_a_program_without_number():
    program = run("G0 X1\nM2")
    assert lines_of(floor_copy(program, header=["job 12"]))[0] == "(JOB 12)"


def test_the_header_stands_behind_a_percent_sign():
    program = nc.read(b"%\nG21 G90 G54 G0 X1\nM2\n%\n")
    assert lines_of(floor_copy(program, header=["job 12"]))[:2] == ["%", "(JOB 12)"]


def test_the_number_changes_to_the_one_asked_for(bracket):
    assert lines_of(floor_copy(bracket, rules=MachineText(program_number="O7001")))[1] == "O7001 (BRACKET, HOLES ONLY)"


@pytest.mark.parametrize("number", ["O10000", "O0", "OABC"])
def test_a_number_outside_the_machines_range_is_refused(bracket, number):
    with pytest.raises(NotPossible, match="no program number of this machine"):
        floor_copy(bracket, rules=MachineText(program_number=number, number_range=(1, 9999)))


def test_a_copy_too_large_for_the_machine_is_refused(bracket):
    with pytest.raises(NotPossible, match="machine takes 100"):
        floor_copy(bracket, rules=MachineText(max_bytes=100))


def test_the_programs_own_number_must_be_one_of_the_machines(bracket):
    with pytest.raises(NotPossible, match="O42 is no program number of this machine: O5000 to O5999"):
        floor_copy(bracket, rules=MachineText(number_range=(5000, 5999)))


OWN_COMMENTS = """O7 (Größe [A])
G21 G90 G54 G17 (drill the four holes of the flange, then turn it) G0 X1 ; see the sketch
M0 (wenden)
M30
"""


def test_the_programs_own_comments_become_short_and_plain_where_the_machine_wants_it():
    rules = MachineText(own_comments_plain=True, comment_length=24, line_end="\n")
    copy = floor_copy(nc.read(OWN_COMMENTS.encode(), control=CALCULATOR), rules=rules)
    assert copy.decode() == (
        "O7 (GROSSE A)\nG21 G90 G54 G17  G0 X1 (DRILL THE FOUR HOLES OF)\n(THE FLANGE, THEN TURN IT)\n"
        "(SEE THE SKETCH)\nM0 (WENDEN)\nM30\n"
    )


def test_comments_within_comments_become_plain():
    control = replace(CALCULATOR, nested_comments=True)
    copy = floor_copy(run("G0 X1 (a (b) c)\nM30", control), rules=MachineText(own_comments_plain=True))
    assert b"G0 X1 (A B C)\r\n" in copy


@given(st.lists(st.sampled_from(["G1 X1 ", "(a b)", "(ü)", "; end", "(", ")", "M8", "%", "F9"]), max_size=6))
def test_plain_comments_change_no_code(parts):
    line = "".join(parts)
    program = nc.read(f"G21 G90 G54 G17 G1 F100\n{line}\nM30\n".encode(), control=CALCULATOR)
    copy = nc.read(floor_copy(program, rules=MachineText(own_comments_plain=True)), control=CALCULATOR)
    assert [entry.why for entry in copy.unread] == [entry.why for entry in program.unread]


@pytest.mark.parametrize(
    ("rules", "name"),
    [
        (MachineText(), "bracket op 10.nc"),
        (MachineText(name_ending="txt"), "bracket op 10.txt"),
        (MachineText(name_by_number=True), "O42.nc"),
        (MachineText(name_by_number=True, program_number="O7001", name_ending=".eia", name_length=8), "O7001.eia"),
    ],
)
def test_a_copy_is_named_as_the_machine_wants_it(bracket, rules, name):
    assert file_name(bracket, "bracket op 10.nc", rules) == name


def test_a_name_too_long_for_the_machine_is_refused(bracket):
    with pytest.raises(NotPossible, match="13 characters"):
        file_name(bracket, "bracket op 10.nc", MachineText(name_length=8))


def test_a_program_without_number_has_no_name_by_number():
    with pytest.raises(NotPossible, match="no program number"):
        file_name(run("G0 X1\nM2"), "lid.nc", MachineText(name_by_number=True))


def test_percent_signs_are_put_around_where_the_machine_wants_them():
    copy = lines_of(floor_copy(run("G0 X1\nM2"), rules=MachineText(percent_signs=True)))
    assert (copy[0], copy[-2]) == ("%", "%")


def test_a_stop_switches_off_before_and_on_again_after(bracket):
    stop = PutStop(10, "Clear the chips")
    copy = lines_of(floor_copy(bracket, stops=[stop]))
    begin = copy.index("(CLEAR THE CHIPS)")
    assert copy[begin - 3 : begin + 5] == [
        "N8 G80", "M09", "M05", "(CLEAR THE CHIPS)", "M00", "G17 G20 G90 G94 G54", "S1200 M03", "M08",
    ]  # fmt: skip


def test_a_stop_puts_the_builders_coolant_on_again():
    control = replace(CALCULATOR, coolant_codes=(("M88", int(Coolant.THROUGH)), ("M89", 0)))
    program = run("M8\nM88\nG0 Z50\nG0 X1\nM30", control)
    copy = lines_of(floor_copy(program, stops=[PutStop(4, "look")]))
    assert copy[copy.index("M00") + 1 :][:4] == ["G17 G21 G90 G94 G54", "S1000 M03", "M08", "M88"]


def test_a_stop_does_not_state_what_the_program_leaves_open():
    program = nc.read(b"G0 X1 Z5\nM2\n")
    copy = lines_of(floor_copy(program, stops=[PutStop(1, "look")]))
    assert copy == ["G0 X1 Z5", "(LOOK)", "M00", "M2", ""]


@pytest.mark.parametrize(
    ("body", "line", "why"),
    [
        ("G0 Z5\nG1 Z-1\nX5\nG0 Z9", 4, "not retracted"),
        ("G0 Z5\nG81 X1 Z-1 R1\nX2\nG80", 3, "cycle G81"),
        ("G0 Z5\nM2\nG0 X1", 4, "not run"),
        ("G0 Z5", 99, "not run"),
    ],
)
def test_a_stop_at_a_bad_place_is_refused(body, line, why):
    with pytest.raises(NotPossible, match=why):
        floor_copy(run(body, CALCULATOR), stops=[PutStop(line, "look")])


def test_a_stop_may_stand_behind_a_tool_change_that_retracts():
    program = run("G0 Z5\nG1 Z-1\nX5\nT2 M6\nG0 X9\nM30", CALCULATOR)
    assert b"M00" in floor_copy(program, stops=[PutStop(5, "look")])


def test_a_stop_may_stand_in_the_main_program_of_one_with_subprograms(plate):
    copy = nc.read(floor_copy(plate, stops=[PutStop(16, "look")]), control=CALCULATOR)
    assert [stop.text for stop in copy.stops][:1] == ["LOOK"]


@pytest.mark.parametrize(("line", "why"), [(47, "calls a subprogram"), (56, "more than once"), (58, "more than once")])
def test_no_stop_is_put_where_lines_run_more_than_once(plate, line, why):
    with pytest.raises(NotPossible, match=why):
        floor_copy(plate, stops=[PutStop(line, "look")])


def test_a_prove_out_copy_stops_before_each_tool_change(bracket):
    stops = optional_stops_at_tools(bracket)
    assert [(bracket.text(stop.after_line), stop.kind) for stop in stops] == [("N12 M00 (CHECK THE FIRST HOLE)", "M01")]
    assert nc.read(floor_copy(bracket, stops=stops), control=CALCULATOR).stops[-1].kind == "M01"


@given(st.text(max_size=200), st.integers(5, 60))
def test_any_text_becomes_plain_comments_of_the_length(text, length):
    for line in comment_lines(text, length):
        inside = line[1:-1]
        assert (line[0], line[-1]) == ("(", ")")
        assert 0 < len(inside) <= length
        assert inside.isascii()
        assert inside == inside.upper()
        assert not set(inside) & set("()[];%")


CHANGES = {
    "a coordinate": (b"X.5 Y.5 Z-1.1", b"X.5 Y.5 Z-1.2"),
    "a feed": (b"F4.8", b"F4.9"),
    "a speed": (b"S1200", b"S1201"),
    "a tool": (b"T6", b"T7"),
    "a length offset": (b"H5", b"H9"),
    "a work offset": (b"N14 G54", b"N14 G55"),
    "coolant": (b"M08", b"M07"),
    "a spindle direction": (b"S800 M03", b"S800 M04"),
    "a feed into a rapid": (b"G01 Z-.2 F3.", b"G00 Z-.2"),
    "a move more": (b"N8 G80", b"N8 G80 X9."),
    "a stop less": (b"N12 M00", b"N12"),
    "the program end": (b"N20 M30", b"N20 M05"),
    "a word that is not read": (b"N18 M05", b"N18 M05 Q1"),
}


@pytest.mark.parametrize("change", CHANGES)
def test_the_proof_finds(change, bracket):
    old, new = CHANGES[change]
    data = sample("bracket_plunged.nc")
    assert old in data
    after = nc.read(data.replace(old, new, 1), control=CALCULATOR)
    with pytest.raises(NotPossible, match="nothing was written|stops"):
        prove_same(bracket, after, origin=tuple(range(1, after.lines + 1)))


def test_the_proof_finds_a_new_line_that_moves(bracket):
    patched = apply(Patch(after={10: ["G00 X1."]}), bracket.source)
    after = nc.read(patched.data, control=CALCULATOR)
    with pytest.raises(NotPossible, match="put in moves"):
        prove_same(bracket, after, origin=patched.origin)


def test_the_proof_holds_for_the_same_program(bracket):
    prove_same(bracket, bracket, origin=tuple(range(1, bracket.lines + 1)))


def test_a_copy_under_another_profile_is_judged_by_the_programs_own(bracket):
    other = nc.read(sample("bracket_plunged.nc"), control=replace(CALCULATOR, peck_retract_mm=1.0))
    assert floor_copy(other) == floor_copy(bracket)
