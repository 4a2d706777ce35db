"""What each setting of a control profile is called, by theme, and what its values mean in plain words.

A test sees to it that every setting of the core's profile stands here once.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy

from shopflow.core.nc.control_values import EXTRA_CODES, plain, settings
from shopflow.core.types import ControlMacro, ControlProfile, Coolant, DecimalRule, MacroEnd

Words = str | Promise


@dataclass(frozen=True)
class Setting:
    """choices: (value, what it means) where the value is one of a few; of yes and no, yes comes first."""

    name: str
    label: Words
    help: Words = ""
    choices: tuple[tuple[Any, Words], ...] = ()
    unit: str = ""
    is_telling: bool = False

    @property
    def kind(self) -> Any:
        return settings()[self.name]


@dataclass(frozen=True)
class Theme:
    key: str
    title: Words
    settings: tuple[Setting, ...]
    about: Words = ""


def _yes_no(name: str, label: Words, yes: Words, no: Words, help: Words = "", *, telling: bool = False) -> Setting:
    return Setting(name, label, help, ((True, yes), (False, no)), is_telling=telling)


LETTERS = frozenset({"dwell_letters", "repeat_letters"})

EXTRA_WORDS: dict[str, Words] = {
    "G10 L10": lazy("sets a tool's length or radius"),
    "G10 L20": lazy("sets a further work offset"),
    "G43.1": lazy("takes the tool's length from the program"),
    "G50": lazy("ends scaling"),
    "G50.1": lazy("ends the mirror"),
    "G51": lazy("scales"),
    "G51.1": lazy("mirrors"),
    "G52": lazy("shifts all work offsets"),
    "G54.1": lazy("further work offsets by P"),
    "G66": lazy("calls a macro after each move"),
    "G67": lazy("ends the calls of G66"),
    "G68": lazy("turns the coordinates"),
    "G69": lazy("ends the turning"),
    "G73": lazy("drills, breaking the chip"),
    "G74": lazy("taps left-handed"),
    "G76": lazy("bores, stops and shifts off the wall"),
    "G84.2": lazy("taps rigidly, right-handed"),
    "G84.3": lazy("taps rigidly, left-handed"),
    "G90.1": lazy("arc centres are absolute"),
    "G91.1": lazy("arc centres count from the start"),
    "G95": lazy("feed a revolution"),
    "M29": lazy("the next tapping cycle is rigid"),
}

COOLANT_WORDS: dict[int, Words] = {
    int(Coolant.OFF): lazy("off"),
    int(Coolant.MIST): lazy("mist"),
    int(Coolant.FLOOD): lazy("flood"),
    int(Coolant.THROUGH): lazy("through"),
    int(Coolant.AIR): lazy("air"),
}

END_WORDS: dict[MacroEnd, Words] = {
    MacroEnd.UNKNOWN: lazy("nobody knows: the next move must name all its axes"),
    MacroEnd.START: lazy("where it began"),
    MacroEnd.AXIS_WORDS: lazy("at the axis words of the call"),
    MacroEnd.HOME_Z: lazy("at the machine's home in Z"),
}

THEMES: tuple[Theme, ...] = (
    Theme(
        "numbers",
        lazy("Numbers"),
        (
            Setting(
                "decimal_rule", lazy("A number without a point"),
                lazy("The costliest difference between controls: X10 moves 10 mm on one and 0.010 mm on another."),
                ((DecimalRule.CALCULATOR, lazy("X10 is ten units, as on a calculator")),
                 (DecimalRule.INCREMENT, lazy("X10 is ten least increments"))),
                is_telling=True,
            ),
            Setting("least_increment_mm", lazy("Least increment in millimetres"),
                    lazy("What one count is worth where numbers without a point are counted."), unit="mm"),
            Setting("least_increment_in", lazy("Least increment in inches"), unit="in"),
            Setting("default_unit", lazy("A program that names no unit"), "",
                    (("mm", lazy("is read in millimetres")), ("in", lazy("is read in inches")))),
            Setting("sequence_digits", lazy("Most digits of a line number"), lazy("Longer N words are told.")),
        ),
    ),
    Theme(
        "text",
        lazy("The text"),
        (
            _yes_no("semicolon_comments", lazy("A semicolon"), lazy("begins a comment"), lazy("is not read")),
            _yes_no("slash_comments", lazy("Two slashes"), lazy("begin a comment"), lazy("are not read")),
            _yes_no("nested_comments", lazy("A bracket inside a comment"), lazy("opens a comment inside it"),
                    lazy("is part of its text")),
            _yes_no("text_before_percent", lazy("Text before the first % line"), lazy("is passed over"),
                    lazy("is read as the program")),
            _yes_no("program_numbers", lazy("O1234 or :1234"), lazy("names a program"), lazy("is not read")),
            Setting("line_length", lazy("Most characters of a block"), lazy("0 for no limit.")),
            Setting("aliases", lazy("Codes that mean another here"),
                    lazy("Such as G70 = G20, G71 = G21, parted by commas.")),
            Setting("extra_codes", lazy("Codes beyond the report that this control has"),
                    lazy("Any code that is not ticked, and not in NISTIR 6556, is a must-fix finding."),
                    tuple((code, EXTRA_WORDS[code]) for code in EXTRA_CODES)),
            Setting("harmless_codes", lazy("Codes that are known and move nothing"),
                    lazy("Smoothing, a door, a chip conveyor: such as G187, M46, parted by commas.")),
        ),
    ),
    Theme(
        "moves",
        lazy("Moves and offsets"),
        (
            _yes_no("straight_rapids", lazy("A rapid"), lazy("runs straight to its end"),
                    lazy("runs each axis at its own full rate, so it bends"),
                    lazy("A rapid that bends sweeps another place than the line between its ends."), telling=True),
            _yes_no("mode_word_alone", lazy("G0 to G3 without axis words"), lazy("sets the mode for later blocks"),
                    lazy("is not read")),
            _yes_no("machine_move_needs_mode", lazy("G53 while neither G0 nor G1 is in force"), lazy("is not read"),
                    lazy("is a rapid")),
            _yes_no("named_home_axes_only", lazy("G28 sends home"), lazy("only the axes that its block names"),
                    lazy("all axes")),
            _yes_no("tool_change_retracts", lazy("M6"), lazy("takes the spindle up by itself"),
                    lazy("leaves the spindle where it is: the program must retract")),
            _yes_no("bare_h_changes_offset", lazy("H without G43"), lazy("changes the length offset in force"),
                    lazy("is not read")),
            _yes_no("corner_words", lazy(",R and ,C"), lazy("round and chamfer a corner"), lazy("are not read")),
        ),
    ),
    Theme(
        "arcs",
        lazy("Arcs"),
        (
            Setting("arc_tolerance_mm", lazy("Start and end radius may differ by"),
                    lazy("A larger difference is told as an arc that does not close."), unit="mm"),
            Setting("arc_tolerance_in", lazy("The same while inches are in force"), unit="in"),
            Setting("arc_tolerance_share", lazy("The same as a share of the radius"),
                    lazy("0.002 is two thousandths; the larger of the two allows. 0 where only the length counts.")),
            _yes_no("full_circle_without_end", lazy("G2 or G3 with a centre and no end"), lazy("is a full circle"),
                    lazy("is not read")),
        ),
    ),
    Theme(
        "cycles",
        lazy("Cycles"),
        (
            Setting("peck_retract_mm", lazy("G83 stops above the last depth by"), unit="mm"),
            _yes_no("peck_returns_to_r", lazy("G83 withdraws"), lazy("to R after each peck"),
                    lazy("to the clear level after each peck")),
            Setting("chip_break_retract_mm", lazy("G73 backs off by"), unit="mm"),
            Setting("default_cycle_return", lazy("A program that says neither G98 nor G99"), "",
                    ((98, lazy("returns to the first level (G98)")), (99, lazy("returns to R (G99)")))),
            _yes_no("level_of_series", lazy("The level that G98 returns to"), lazy("is the one before the series"),
                    lazy("is the one before each block")),
            _yes_no("cycle_cancel_restores", lazy("G80"), lazy("brings back the G0 or G1 from before the cycle"),
                    lazy("leaves no motion mode: the next move must name one")),
            _yes_no("cycle_without_r", lazy("A cycle without R"), lazy("starts at the present level"),
                    lazy("is not read")),
            Setting("repeat_letters", lazy("Letters that repeat a cycle"), lazy("Out of K, L and P.")),
            _yes_no("tap_needs_clockwise", lazy("G84 with the spindle not turning clockwise"), lazy("is not read"),
                    lazy("starts the spindle itself")),
            _yes_no("tap_feeds_to_r", lazy("G84 feeds back"), lazy("to R, and rapids from there"),
                    lazy("to the clear level")),
        ),
    ),
    Theme(
        "compensation",
        lazy("Cutter compensation"),
        (
            _yes_no("compensation_is_wear", lazy("D holds"), lazy("wear only: the program is the tool centre's path"),
                    lazy("the tool's radius: the program is the part's outline"), telling=True),
            _yes_no("size_in_d", lazy("D.265"), lazy("is a diameter itself"), lazy("is not read")),
            _yes_no("d_is_tool_number", lazy("D5 under tool 3"), lazy("takes the size of tool 5"),
                    lazy("is not known: only a tool's own number is")),
            _yes_no("compensated_inside_corners", lazy("A compensated path into an inside corner"),
                    lazy("is cut, and told where it cuts too much"), lazy("is refused")),
            _yes_no("exit_moves_both_axes", lazy("The move after G40"),
                    lazy("ends at its programmed place in both axes"), lazy("moves only the axes it names")),
        ),
    ),
    Theme(
        "programs",
        lazy("Subprograms and macros"),
        (
            _yes_no("subprogram_calls", lazy("M98 P and M99"), lazy("call a subprogram and return"),
                    lazy("are not read"), telling=True),
            _yes_no("local_calls", lazy("M97 P"), lazy("calls a block of this program"), lazy("is not read")),
            _yes_no("macros", lazy("IF, WHILE, GOTO, G65 and # variables"), lazy("are read"), lazy("are not read"),
                    telling=True),
            _yes_no("o_words", lazy("O-word subprograms and named variables"), lazy("are read"), lazy("are not read"),
                    telling=True),
            _yes_no("unset_variables_are_zero", lazy("A variable that was never set"), lazy("counts 0"),
                    lazy("is vacant: a word that takes it is not there")),
        ),
    ),
    Theme(
        "stops",
        lazy("Stops, dwell and coolant"),
        (
            _yes_no("stop_stops_spindle", lazy("M00 and M01"), lazy("stop spindle and coolant by themselves"),
                    lazy("leave spindle and coolant on: the program must stop them"), telling=True),
            Setting("stop_codes", lazy("Further M codes that stop"), lazy("The builder's own, parted by commas.")),
            _yes_no("off_codes_after_move", lazy("M5 and M9 in a block that moves"), lazy("act after the move"),
                    lazy("act before the move")),
            _yes_no("dwell_in_ms", lazy("P of G4 and of cycles without a point"), lazy("counts milliseconds"),
                    lazy("counts seconds")),
            Setting("dwell_letters", lazy("Letters that give the time of G4"), lazy("Out of P, X, U, F and S.")),
            Setting("coolant_codes", lazy("Further coolant codes"),
                    lazy("Such as M88 = through, M89 = off, parted by commas: mist, flood, through, air or off.")),
        ),
    ),
    Theme(
        "control_macros",
        lazy("Macros that live in the control"),
        (
            Setting("control_macros", lazy("Macros"),
                    lazy("A row each; an empty row is left out.")),
        ),
        lazy("A program calls these, and nobody outside the control can read them: probing, setting a tool, looking "
             "for a broken one. Say of each what it moves, where the tool stands after it and which variables only the "
             "control knows from then on."),
    ),
)  # fmt: skip

SETTINGS: dict[str, Setting] = {setting.name: setting for theme in THEMES for setting in theme.settings}


def said(name: str, profile: ControlProfile) -> str:
    """What a setting stands at, in words."""
    setting, value = SETTINGS[name], getattr(profile, name)
    if name == "extra_codes":
        return ", ".join(code for code in EXTRA_CODES if code in value) or _("none")
    for choice, words in setting.choices:
        if choice == value:
            return str(words)
    if name == "line_length" and not value:
        return _("no limit")
    text = typed(name, value)
    return f"{text} {setting.unit}".strip() if text else _("none")


def said_of_text(name: str, text: str) -> str:
    """What a setting stands at, in words, where it was kept as text: True, 0.5, increment."""
    for choice, words in SETTINGS[name].choices if name in SETTINGS else ():
        if str(plain(choice)) == text:
            return str(words)
    return text


def typed(name: str, value: Any) -> str:
    """A setting that is no choice as somebody types it."""
    if name in LETTERS:
        return ", ".join(value)
    match value:
        case float():
            return f"{value:.10f}".rstrip("0").rstrip(".")
        case frozenset():
            return ", ".join(sorted(value))
        case tuple():
            return ", ".join(_typed_line(name, item) for item in value)
    return str(value)


def _typed_line(name: str, item: Any) -> str:
    if isinstance(item, ControlMacro):
        return item.call
    code, meant = item
    return f"{code} = {coolant_words(meant)}" if name == "coolant_codes" else f"{code} = {meant}"


def coolant_words(bits: int) -> str:
    """through, or flood + air; off where nothing is switched on."""
    return " + ".join(str(word) for bit, word in COOLANT_WORDS.items() if bit and bits & bit) or str(COOLANT_WORDS[0])


def differing(profile: ControlProfile, base: ControlProfile) -> list[str]:
    """The settings in which a profile differs from another, in the order of the page."""
    return [name for name in SETTINGS if getattr(profile, name) != getattr(base, name)]


def telling(profile: ControlProfile) -> Iterator[tuple[Setting, str]]:
    """The settings that tell one control from another at a glance, each with what it stands at."""
    for setting in SETTINGS.values():
        if setting.is_telling:
            yield setting, said(setting.name, profile)
