"""Proposed edits about tools: feed, speed, H, numbers, coolant, lines that go. Each is read again and proved."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from functools import partial

import numpy as np

from shopflow.core.errors import NotPossible
from shopflow.core.nc.edits import MM_PER_IN, Edited
from shopflow.core.nc.modes import Modes
from shopflow.core.nc.patch import Patch, apply
from shopflow.core.nc.program import Program
from shopflow.core.nc.word_edits import change_words
from shopflow.core.nc.writing import check_copy
from shopflow.core.types import Coolant

LineChange = Callable[[str], str]

_PER_MINUTE, _PER_REVOLUTION = 94, 95
_TAPPING = (74, 84)


def _lines_with(program: Program, tool: int) -> list[int]:
    """The lines that run with a tool in the spindle, its M6 included."""
    lines = [line for line in range(1, program.lines + 1) if program.tool_at(line) == tool]
    if not lines:
        raise NotPossible(f"The program does not use T{tool}.")
    return [line for line in lines if program.lines_run[line - 1]]


def _change_lines(program: Program, lines: list[int], change: LineChange, what: str) -> dict[int, str]:
    return _really_changed(program, {line: change(program.text(line)) for line in lines}, what)


def _really_changed(program: Program, changed: dict[int, str], what: str) -> dict[int, str]:
    changed = {line: text for line, text in changed.items() if text != program.text(line)}
    if not changed:
        raise NotPossible(f"There is nothing to change: {what}.")
    return changed


def scale_feed(program: Program, tool: int, factor: float) -> Edited:
    """Multiply every F of a tool; nothing but its feeds changes."""
    if factor <= 0.0:
        raise NotPossible("A feed must stay more than zero.")
    _refuse_for_a_tap(program, tool)
    changed = {line: _feeds_by(program, line, program.text(line), factor) for line in _lines_with(program, tool)}
    changed = _really_changed(program, changed, f"T{tool} has no F word")
    patched = apply(Patch(replaced=changed), program.source)
    after = check_copy(program, patched, may_differ={"feed_mm_min": program.motions.tool == tool})
    return Edited.of(patched, after, changed, f"The feeds of T{tool} are multiplied by {factor:g}.")


def _feeds_by(program: Program, line: int, text: str, factor: float, *, exact: bool = False) -> str:
    """The line with its feeds multiplied, to a tenth of a millimetre (hundredth of an inch) a minute; finer elsewhere.

    exact: for a tap, whose feed must not lose a digit to the program's way of writing.
    """
    if "F" not in text.upper():
        return text
    modes = program.modes_at(line)
    places = _places(modes) if modes.feed_mode == _PER_MINUTE and not exact else 4
    return change_words(text, "F", lambda feed: max(round(feed * factor, places), 10.0**-places), whole=not exact)


def _refuse_for_a_tap(program: Program, tool: int) -> None:
    """Raise NotPossible where the tool taps with a feed a minute, which must stay pitch times speed."""
    taps = (program.motions.tool == tool) & np.isin(program.motions.cycle, _TAPPING)
    lines = np.unique(program.motions.line[taps]).tolist()
    if any(program.modes_at(line).feed_mode == _PER_MINUTE for line in lines):
        raise NotPossible(f"T{tool} taps: its feed must follow its speed, or the thread is torn; change both together.")


def _places(modes: Modes) -> int:
    return 1 if modes.unit == "mm" else 2


def limit_feed(program: Program, tool: int, most_mm_min: float) -> Edited:
    """Bring every F of a tool that is over a feed down to it, never a digit over; slower feeds stay."""
    if most_mm_min <= 0.0:
        raise NotPossible("A feed must stay more than zero.")
    _refuse_for_a_tap(program, tool)
    changed: dict[int, str] = {}
    for line in _lines_with(program, tool):
        modes = program.modes_at(line)
        if modes.feed_mode == _PER_MINUTE:
            changed[line] = _feeds_under(program.text(line), most_mm_min, modes)
    changed = _really_changed(program, changed, f"no F of T{tool} is over {most_mm_min:g} mm/min as feed per minute")
    patched = apply(Patch(replaced=changed), program.source)
    after = check_copy(program, patched, may_differ={"feed_mm_min": program.motions.tool == tool})
    return Edited.of(patched, after, changed, f"The feeds of T{tool} stay at or under {most_mm_min:g} mm/min.")


def _feeds_under(text: str, most_mm_min: float, modes: Modes) -> str:
    scale = 10.0 ** _places(modes)
    most = math.floor(most_mm_min / (1.0 if modes.unit == "mm" else MM_PER_IN) * scale + 1e-6) / scale
    return change_words(text, "F", lambda feed: min(feed, most), whole=True)


def set_speed(program: Program, tool: int, rpm: float) -> Edited:
    """Give a tool another spindle speed; a feed a revolution follows it. A tap's feed a minute would not: refused."""
    if rpm <= 0.0:
        raise NotPossible("A spindle speed must be more than zero.")
    _refuse_for_a_tap(program, tool)
    lines = _lines_with(program, tool)
    what = f"T{tool} has no S word of its own"
    changed = _change_lines(program, lines, lambda text: change_words(text, "S", lambda _: rpm), what)
    patched = apply(Patch(replaced=changed), program.source)
    with_tool = program.motions.tool == tool
    after = check_copy(program, patched, may_differ={"rpm": with_tool, "feed_mm_min": with_tool})
    return Edited.of(patched, after, changed, f"T{tool} turns at {rpm:g} rpm.")


def set_speed_and_feed(program: Program, tool: int, rpm: float) -> Edited:
    """Give a tool another spindle speed and let its feeds follow, so that the feed a revolution stays what it was.

    Raises NotPossible where the tool has more than one speed: which feed belongs to which cannot be told.
    """
    before = speeds(program, tool)
    if len(before) != 1:
        raise NotPossible(f"T{tool} has {len(before)} speeds; change its speed and its feeds one by one.")
    if rpm <= 0.0:
        raise NotPossible("A spindle speed must be more than zero.")
    factor = rpm / before[0]
    taps = bool(np.isin(program.motions.cycle[program.motions.tool == tool], _TAPPING).any())
    changed = {}
    for line in _lines_with(program, tool):
        text = change_words(program.text(line), "S", lambda _: rpm)
        if program.modes_at(line).feed_mode != _PER_REVOLUTION:
            text = _feeds_by(program, line, text, factor, exact=taps)
        changed[line] = text
    changed = _really_changed(program, changed, f"T{tool} has no S word of its own")
    patched = apply(Patch(replaced=changed), program.source)
    with_tool = program.motions.tool == tool
    after = check_copy(program, patched, may_differ={"rpm": with_tool, "feed_mm_min": with_tool})
    if (after.motions.rpm[with_tool & (program.motions.spindle != 0)] != rpm).any():
        raise NotPossible(f"The speed of T{tool} is not given in its own lines; nothing was written.")
    return Edited.of(patched, after, changed, f"T{tool} turns at {rpm:g} rpm, and its feeds follow by {factor:.3g}.")


def speeds(program: Program, tool: int) -> tuple[float, ...]:
    """The spindle speeds (rpm) that a tool turns at, smallest first."""
    motions = program.motions
    turning = (motions.tool == tool) & (motions.spindle != 0) & (motions.rpm > 0.0)
    return tuple(float(rpm) for rpm in np.unique(motions.rpm[turning]))


def correct_length_offset(program: Program, line: int, number: int) -> Edited:
    """Give the G43 of a line another H."""
    changed = _change_lines(program, [line], lambda text: change_words(text, "H", lambda _: float(number)), "no H word")
    patched = apply(Patch(replaced=changed), program.source)
    wrong = program.modes_at(line).length_offset
    rows = (program.motions.length_offset == wrong) & (program.motions.line >= line)
    after = check_copy(program, patched, may_differ={"length_offset": rows})
    return Edited.of(patched, after, (line,), f"Line {line}: H{wrong} becomes H{number}.")


def renumber(program: Program, numbers: Mapping[int, int], *, shift: int = 0) -> Edited:
    """Renumber T, H and D together; shift: H and D are the tool number plus this, by the house rule."""
    missing = next((old for old in numbers if old not in program.tools), None)
    if missing is not None:
        raise NotPossible(f"The program does not use T{missing}.")
    if len(set(numbers.values())) != len(numbers):
        raise NotPossible("Two tools would get the same number.")
    kept = set(program.tools) - set(numbers)
    if kept & set(numbers.values()):
        raise NotPossible("A tool would get the number of another that keeps its own.")
    offsets = {old + shift: new + shift for old, new in numbers.items()}

    def change(text: str) -> str:
        for letter, table in (("T", numbers), ("H", offsets), ("D", offsets)):
            text = change_words(text, letter, partial(_looked_up, table))
        return text

    _check_own_offsets(program, numbers, shift)
    changed = _change_lines(program, list(range(1, program.lines + 1)), change, "none of these tools is used")
    patched = apply(Patch(replaced=changed), program.source)
    renumbered = {"tool": numbers, "length_offset": offsets, "radius_offset": offsets}
    after = check_copy(program, patched, renumbered=renumbered)
    saying = ", ".join(f"T{old} becomes T{new}" for old, new in numbers.items())
    return Edited.of(patched, after, changed, f"{saying}; H and D with it.")


def _check_own_offsets(program: Program, numbers: Mapping[int, int], shift: int) -> None:
    """H and D follow a tool only where they are its own; otherwise the tool would run with another one's length."""
    motions = program.motions
    cuts = motions.feeds
    for column, letter in ((motions.length_offset, "H"), (motions.radius_offset, "D")):
        other = cuts & np.isin(motions.tool, list(numbers)) & (column != 0) & (column != motions.tool + shift)
        if other.any():
            row = int(np.flatnonzero(other)[0])
            tool, number = int(motions.tool[row]), int(column[row])
            raise NotPossible(
                f"T{tool} runs with {letter}{number} where it would be {letter}{tool + shift}; correct that first."
            )


def carousel_numbers(
    program: Program, pockets: int, *, kept: Mapping[int, int] | None = None, others: Iterable[int] = ()
) -> dict[int, int]:
    """New numbers for the tools that have no pocket: the lowest free ones; for `renumber`.

    kept: numbers that a person has chosen already. others: pockets that hold other tools, used
    last. Raises NotPossible where the carousel has too few pockets.
    """
    chosen = dict(kept or {})
    taken = {chosen.get(tool, tool) for tool in program.tools}
    held = set(others)
    free = iter(sorted(set(range(1, pockets + 1)) - taken, key=lambda pocket: (pocket in held, pocket)))
    for tool in program.tools:
        if chosen.get(tool, tool) > pockets:
            pocket = next(free, None)
            if pocket is None:
                raise NotPossible(f"The program has {len(program.tools)} tools, the carousel {pockets} pockets.")
            chosen[tool] = pocket
    return chosen


def _looked_up(table: Mapping[int, int], value: float) -> float | None:
    number = table.get(int(value)) if value.is_integer() else None
    return None if number is None else float(number)


def coolant_on(program: Program, tool: int, *, code: str = "M08") -> Edited:
    """Put coolant on where a tool's spindle starts, and off again before it stops."""
    bit = {"M08": Coolant.FLOOD, "M07": Coolant.MIST}.get(code)
    if bit is None:
        raise NotPossible(f"{code} is no coolant code: M07 or M08.")
    lines = _lines_with(program, tool)
    turning = [line for line in lines if program.modes_at(line).spindle]
    if not turning or any(program.modes_at(line).coolant for line in turning):
        raise NotPossible(f"T{tool} never turns, or has coolant already.")
    begin, end = turning[0], turning[-1]
    if turning != [line for line in lines if begin <= line <= end]:
        raise NotPossible(f"The spindle of T{tool} stops and starts again; put coolant on by hand.")
    patched = apply(Patch(after={begin: [code], end: ["M09"]}), program.source)
    wet = (program.motions.tool == tool) & (program.motions.line > begin) & (program.motions.line <= end)
    after = check_copy(program, patched, may_differ={"coolant": wet})
    return Edited.of(patched, after, (begin, end), f"T{tool} gets coolant ({code}) behind line {begin}.")


def remove_lines(program: Program, first: int, last: int) -> Edited:
    """Take lines out; every other motion keeps its end, and only the one behind them begins elsewhere."""
    if not 1 <= first <= last <= program.lines:
        raise NotPossible(f"Lines {first} to {last} are not in the program.")
    lines = program.motions.line
    if (lines[:-1] > lines[1:]).any():
        raise NotPossible("The program calls subprograms, so lines may run more than once; take them out by hand.")
    gone = frozenset(range(first, last + 1))
    patched = apply(Patch(removed=gone), program.source)
    behind = np.zeros(len(lines), dtype=np.bool_)
    behind[np.flatnonzero(lines > last)[:1]] = True
    after = check_copy(program, patched, removed=gone, may_differ={"start": behind, "start_known": behind})
    return Edited.of(patched, after, (first, last), _gone(program, first, last))


def _gone(program: Program, first: int, last: int) -> str:
    """What is taken out, and that the motion behind it begins where the one before ended."""
    lines = program.motions.line
    before, behind = lines[lines < first], lines[lines > last]
    what = f"Line {first} is" if first == last else f"Lines {first} to {last} are"
    joint = f" Line {behind[0]} then moves from where line {before[-1]} ends." if len(before) and len(behind) else ""
    return f"{what} taken out.{joint}"
