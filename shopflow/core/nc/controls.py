"""Control profiles that come with the product, as data. A shop copies one and changes it."""

from __future__ import annotations

from dataclasses import replace

from shopflow.core.types import ControlProfile, DecimalRule

PLAIN = ControlProfile()
"""What NISTIR 6556 says, and nothing else."""

CALCULATOR = ControlProfile(
    name="calculator",
    title="Common word-address control, X10 is ten units",
    decimal_rule=DecimalRule.CALCULATOR,
    arc_tolerance_mm=0.02,
    arc_tolerance_in=0.0008,
    peck_retract_mm=0.5,
    chip_break_retract_mm=0.5,
    peck_returns_to_r=True,
    dwell_in_ms=True,
    cycle_cancel_restores=True,
    macros=True,
    subprogram_calls=True,
    named_home_axes_only=True,
    stop_stops_spindle=False,
    semicolon_comments=True,
    extra_codes=frozenset(
        {
            "G52",
            "G54.1",
            "G73",
            "G74",
            "G76",
            "G90.1",
            "G91.1",
            "G95",
            "M29",
            "G68",
            "G69",
            "G50",
            "G51",
            "G50.1",
            "G51.1",
            "G10 L20",
            "G10 L10",
            "G66",
            "G67",
        }
    ),
    harmless_codes=frozenset({"G5", "G5.1", "G187"}),
    slash_comments=True,
    corner_words=True,
    text_before_percent=True,
    bare_h_changes_offset=True,
    full_circle_without_end=True,
    mode_word_alone=True,
    compensated_inside_corners=True,
    exit_moves_both_axes=True,
    d_is_tool_number=False,
    off_codes_after_move=True,
    repeat_letters="KL",
    tap_needs_clockwise=False,
    tap_feeds_to_r=True,
    level_of_series=True,
    tool_change_retracts=True,
    program_numbers=True,
    sequence_digits=8,
    line_length=0,
    dwell_letters="PXU",
    machine_move_needs_mode=False,
    unset_variables_are_zero=False,
)
"""Common practice, no source: each value is a setting, to be checked against the manual of the machine."""

INCREMENT = replace(
    CALCULATOR,
    name="increment",
    title="Common word-address control, X10 is ten least increments",
    decimal_rule=DecimalRule.INCREMENT,
    straight_rapids=False,
)

O_WORDS = replace(
    PLAIN,
    name="o-words",
    title="The report's language with O-word subprograms and named variables",
    o_words=True,
    arc_tolerance_share=0.002,
    full_circle_without_end=True,
    peck_returns_to_r=True,
    sequence_digits=6,
    compensated_inside_corners=True,
    extra_codes=frozenset({"G43.1", "G73", "G90.1", "G91.1", "G10 L20"}),
)
"""As an independent interpreter descended from NIST's reads; beyond its facts in the tests, common practice."""

CONTROLS: dict[str, ControlProfile] = {profile.name: profile for profile in (PLAIN, CALCULATOR, INCREMENT, O_WORDS)}
