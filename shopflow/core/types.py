"""Value types that all parts of the core share.

Frozen dataclasses; arrays inside them are never changed after they are made. Millimetres, degrees, seconds,
revolutions a minute and millimetres a minute throughout; screens convert at the border.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import IntEnum, IntFlag, StrEnum

import numpy as np
from numpy.typing import NDArray

Vector = tuple[float, float, float]
Box = tuple[Vector, Vector]
"""Lowest and highest corner, mm."""


class MotionKind(IntEnum):
    RAPID = 0
    FEED = 1
    ARC = 2
    DWELL = 3


class Coolant(IntFlag):
    OFF = 0
    MIST = 1
    FLOOD = 2
    THROUGH = 4
    AIR = 8


class ToolShape(StrEnum):
    """Shape of the cutting end; the trade's words."""

    FLAT = "flat end mill"
    BALL = "ball end mill"
    BULL = "corner radius end mill"
    FACE = "face mill"
    CHAMFER = "chamfer mill"
    DRILL = "drill"
    SPOT = "spot drill"
    COUNTERSINK = "countersink"
    COUNTERBORE = "counterbore"
    REAMER = "reamer"
    TAP = "tap"
    THREAD_MILL = "thread mill"
    BORE = "boring head"
    SLOT = "T-slot cutter"
    PROBE = "probe"


class ToolMaterial(StrEnum):
    HSS = "high-speed steel"
    COBALT = "cobalt high-speed steel"
    CARBIDE = "solid carbide"
    INSERT = "carbide insert"

    @property
    def is_high_speed_steel(self) -> bool:
        return self in (ToolMaterial.HSS, ToolMaterial.COBALT)


class ToolCoating(StrEnum):
    """What lies over a tool's edges, by what it is made of; NOT_SAID is not the same as none."""

    NOT_SAID = ""
    UNCOATED = "uncoated"
    TIN = "TiN"
    TICN = "TiCN"
    TIALN = "TiAlN"
    ALTIN = "AlTiN"
    ALCRN = "AlCrN"
    ZRN = "ZrN"
    TIB2 = "TiB2"
    CARBON = "diamond-like carbon"
    DIAMOND = "diamond"


class ToolUse(StrEnum):
    """What a shop allows a tool to be used for."""

    FACE = "face"
    ROUGH = "rough"
    WALL = "wall"
    FLOOR = "floor"
    HELICAL = "helical bore"
    SURFACE = "surface"
    SPOT = "spot"
    DRILL = "drill"
    COUNTERSINK = "countersink"
    COUNTERBORE = "counterbore"
    CHAMFER = "chamfer"
    DEBURR = "deburr"
    TAP = "tap"
    REAM = "ream"
    BORE = "bore"


@dataclass(frozen=True)
class Holder:
    """What grips a tool, as a stack of cones from the nose upwards.

    profile: (height above the nose mm, diameter mm) pairs, heights rising from 0; straight between the pairs.
    """

    name: str
    profile: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True)
class Tool:
    """One tool as it sits in its holder.

    diameter_mm: cutting diameter. corner_radius_mm: 0 for a sharp corner, half the diameter for a ball.
    point_angle_deg: included angle of a drill point, chamfer or countersink; 180 is flat.
    tip_diameter_mm: flat at the tip of a chamfer mill. flute_length_mm: length that cuts. stickout_mm: tip to holder
    nose. neck_diameter_mm and shank_diameter_mm: what is above the flutes. max_rpm: 0 where it has no limit of its own.
    """

    number: int
    name: str
    shape: ToolShape
    diameter_mm: float
    material: ToolMaterial = ToolMaterial.CARBIDE
    corner_radius_mm: float = 0.0
    point_angle_deg: float = 180.0
    tip_diameter_mm: float = 0.0
    flute_length_mm: float = 0.0
    stickout_mm: float = 0.0
    neck_diameter_mm: float = 0.0
    shank_diameter_mm: float = 0.0
    flutes: int = 2
    pitch_mm: float = 0.0
    centre_cutting: bool = True
    through_coolant: bool = False
    max_rpm: float = 0.0
    uses: frozenset[ToolUse] = frozenset()
    holder: Holder | None = None
    coating: ToolCoating = ToolCoating.NOT_SAID


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


@dataclass(frozen=True)
class Machine:
    """A three-axis mill.

    travel_mm: (x, y, z) usable travel. rapid_mm_min, acceleration_mm_s2: per axis (x, y, z). max_feed_mm_min: largest
    cutting feed. min_rpm, max_rpm: spindle. power_kw: continuous. power_curve: (rpm, kW) pairs with rising rpm, empty
    where the power is taken as the same at every speed. tool_change_s: chip to chip. spindle_start_s: from rest to
    speed. carousel: number of pockets.
    """

    name: str
    travel_mm: Vector
    rapid_mm_min: Vector
    acceleration_mm_s2: Vector
    max_feed_mm_min: float
    min_rpm: float
    max_rpm: float
    power_kw: float
    tool_change_s: float = 5.0
    spindle_start_s: float = 2.0
    carousel: int = 20
    through_coolant: bool = False
    power_curve: tuple[tuple[float, float], ...] = ()
    control: ControlProfile = field(default_factory=ControlProfile)


@dataclass(frozen=True)
class Material:
    """A work material. density_kg_m3; unit_power_kw_cm3_min: spindle power per removal rate (kW per cm³/min)."""

    name: str
    group: str
    density_kg_m3: float
    unit_power_kw_cm3_min: float = 0.0


@dataclass(frozen=True)
class Placement:
    """Where the part sits in a setup: setup point = rotation · part point + origin.

    rotation: row-major 3 × 3 as nine numbers, columns are the part's axes seen in the setup. origin_mm: place of the
    part's origin in the setup, whose own origin is the part zero of the program.
    """

    rotation: tuple[float, ...] = (1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0)
    origin_mm: Vector = (0.0, 0.0, 0.0)


@dataclass(frozen=True)
class Motions:
    """Everything a program moves, one row a motion, n rows; positions in the active work offset's coordinates, mm.

    kind: (n,) uint8 MotionKind. line: (n,) int32, line of the file, counted from 1.
    start, end: (n, 3) float64. start_known: (n, 3) bool, False where the start is only assumed (first move, after G28,
    after a change of work offset). centre: (n, 3) float64, NaN unless an arc. plane: (n,) uint8 17, 18 or 19.
    turn_deg: (n,) float64, signed sweep of an arc, positive counter-clockwise seen from the plane's positive normal,
    |turn| = 360 for a full circle, more for several; 0 unless an arc.
    feed_mm_min: (n,) float64, NaN unless it feeds. dwell_s: (n,) float64.
    rpm: (n,) float64 commanded speed; spindle: (n,) int8, 1 clockwise, -1 counter-clockwise, 0 stopped.
    coolant: (n,) uint8 Coolant bits. tool: (n,) int32 in the spindle, 0 none.
    length_offset, radius_offset: (n,) int32, H and D in force, 0 none. radius_side: (n,) int8, 41 or 42 or 0.
    work_offset: (n,) uint8, 1 is G54; 0 is machine coordinates (G53, G28, G30).
    cycle: (n,) uint8, number of the canned cycle that the motion belongs to (73, 76, 81 … 89), 0 none.
    """

    kind: NDArray[np.uint8]
    line: NDArray[np.int32]
    start: NDArray[np.float64]
    end: NDArray[np.float64]
    start_known: NDArray[np.bool_]
    centre: NDArray[np.float64]
    plane: NDArray[np.uint8]
    turn_deg: NDArray[np.float64]
    feed_mm_min: NDArray[np.float64]
    dwell_s: NDArray[np.float64]
    rpm: NDArray[np.float64]
    spindle: NDArray[np.int8]
    coolant: NDArray[np.uint8]
    tool: NDArray[np.int32]
    length_offset: NDArray[np.int32]
    radius_offset: NDArray[np.int32]
    radius_side: NDArray[np.int8]
    work_offset: NDArray[np.uint8]
    cycle: NDArray[np.uint8]

    def __len__(self) -> int:
        return int(self.kind.shape[0])

    @property
    def feeds(self) -> NDArray[np.bool_]:
        """(n,) bool, whether it goes at feed, along a line or an arc."""
        feeds: NDArray[np.bool_] = (self.kind == MotionKind.FEED) | (self.kind == MotionKind.ARC)
        return feeds
