"""Where controls differ, as data."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class DecimalRule(StrEnum):
    """What a number without a decimal point means."""

    CALCULATOR = "calculator"
    """X10 is ten units."""
    INCREMENT = "increment"
    """X10 is ten least increments: 0.010 mm or 0.0010 in."""


class MacroEnd(StrEnum):
    """Where the tool stands after a macro that lives in the control."""

    START = "where it began"
    AXIS_WORDS = "at its axis words"
    HOME_Z = "at the machine's home in Z"
    UNKNOWN = "not known"


@dataclass(frozen=True)
class ControlMacro:
    """A macro that lives in the control (probing, tool setting, a broken-tool check), as a person described it.

    call: number behind G65 P, such as "9810", or the code that calls it, such as "M46" or "G207". ends: where the tool
    stands after it. sets: variables whose values only the control knows after it. moves: what it moves, in words.
    """

    call: str
    title: str
    ends: MacroEnd = MacroEnd.UNKNOWN
    sets: tuple[int, ...] = ()
    moves: str = ""


@dataclass(frozen=True)
class ControlProfile:
    """Where controls differ, as data. Named in plain words; never after a make of control.

    least_increment_mm / _in: one count of a number without a point under DecimalRule.INCREMENT.
    arc_tolerance_mm: largest accepted difference between the start and the end radius of an arc.
    arc_tolerance_share: the same as a share of the radius; the larger of the two allows.
    peck_retract_mm: back-off above the last depth in G83; chip_break_retract_mm: in G73.
    dwell_in_ms: whether P of G4 and of cycles counts milliseconds.
    cycle_cancel_restores: whether G80 brings back the G0 or G1 in force before the cycle.
    straight_rapids: whether a rapid runs on a straight line; otherwise each axis at its own full rate.
    macros: whether IF, WHILE, GOTO and # variables in the common macro syntax are understood; o_words: whether
    subprograms in the O-word style are; subprogram_calls: whether M98 P and M99 are; local_calls: whether M97 P is.
    stop_codes: M codes of the builder's own that stop; harmless_codes: G and M codes that are known to move nothing,
    such as "G187" or "M46".
    extra_codes: G and M codes beyond the report that this control has ("G73", "G95", "M29"); any other is not read.
    arc_tolerance_in: as arc_tolerance_mm, while inches are in force.
    default_unit: "mm" or "in", what a program that does not say is read in.
    full_circle_without_end: whether G2 I J with no end point is a full circle.
    mode_word_alone: whether a G0 to G3 without axis words only sets the mode.
    off_codes_after_move: whether M5 and M9 act after the move of their block.
    repeat_letters: words that repeat a canned cycle. cycle_without_r: whether R may be left out (the present level).
    tap_needs_clockwise: whether G84 is refused unless the spindle already turns clockwise.
    tap_feeds_to_r: whether G84 feeds back to R and rapids from there; otherwise it feeds to the clear level.
    level_of_series: whether the level that G98 goes back to, and R under G91 counts from, is the one before the whole
    series of cycles; otherwise the one before each block.
    tool_change_retracts: whether M6 takes the spindle up by itself.
    compensated_inside_corners: whether cutter compensation takes corners into the material; the report refuses them.
    compensation_is_wear: whether D holds wear only and the programmed path is the tool centre's. size_in_d: whether D.5
    is a diameter itself. d_is_tool_number: whether D names a row of the tool table; otherwise only the D of the tool's
    own number is known. exit_moves_both_axes: whether the move after G40 ends at the programmed place in both axes.
    corner_words: whether ,R and ,C round and chamfer a corner. slash_comments: whether // begins a comment.
    nested_comments: whether a comment may hold another in parentheses.
    text_before_percent: whether text before the first lone % is passed over. bare_h_changes_offset: whether H without
    G43 changes the length offset in force. aliases: codes that mean another here, such as ("G70", "G20").
    coolant_codes: further M codes with the Coolant bits that they switch on, 0 for all off, such as ("M88", 4).
    control_macros: macros that live in the control, each described once by a person.
    program_numbers: whether O1234 (or :1234) names a program. sequence_digits: most digits of an N word.
    line_length: most characters of a block, 0 for no limit. dwell_letters: words that give the time of G4.
    machine_move_needs_mode: whether G53 is refused unless G0 or G1 is in force; otherwise it is a rapid.
    unset_variables_are_zero: whether a variable that the program never set reads as 0; otherwise it is not read.
    """

    name: str = "plain"
    title: str = "The report's own language (NISTIR 6556)"
    decimal_rule: DecimalRule = DecimalRule.CALCULATOR
    least_increment_mm: float = 0.001
    least_increment_in: float = 0.0001
    arc_tolerance_mm: float = 0.002
    arc_tolerance_share: float = 0.0
    peck_retract_mm: float = 0.254
    chip_break_retract_mm: float = 0.254
    peck_returns_to_r: bool = False
    dwell_in_ms: bool = False
    cycle_cancel_restores: bool = False
    straight_rapids: bool = True
    macros: bool = False
    o_words: bool = False
    subprogram_calls: bool = False
    default_cycle_return: int = 98
    stop_stops_spindle: bool = False
    semicolon_comments: bool = True
    named_home_axes_only: bool = False
    stop_codes: frozenset[str] = frozenset()
    harmless_codes: frozenset[str] = frozenset()
    extra_codes: frozenset[str] = frozenset()
    arc_tolerance_in: float = 0.0002
    default_unit: str = "mm"
    full_circle_without_end: bool = False
    mode_word_alone: bool = False
    off_codes_after_move: bool = False
    repeat_letters: str = "L"
    cycle_without_r: bool = False
    tap_needs_clockwise: bool = True
    tap_feeds_to_r: bool = False
    level_of_series: bool = False
    tool_change_retracts: bool = False
    compensated_inside_corners: bool = False
    compensation_is_wear: bool = False
    size_in_d: bool = False
    d_is_tool_number: bool = True
    exit_moves_both_axes: bool = False
    slash_comments: bool = False
    corner_words: bool = False
    nested_comments: bool = False
    text_before_percent: bool = False
    bare_h_changes_offset: bool = False
    aliases: tuple[tuple[str, str], ...] = ()
    coolant_codes: tuple[tuple[str, int], ...] = ()
    control_macros: tuple[ControlMacro, ...] = ()
    program_numbers: bool = False
    local_calls: bool = False
    sequence_digits: int = 5
    line_length: int = 256
    dwell_letters: str = "P"
    machine_move_needs_mode: bool = True
    unset_variables_are_zero: bool = True
