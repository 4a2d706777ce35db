"""Several programs in one file: which there are, and the bytes of some of them alone."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from shopflow.core.errors import NotPossible
from shopflow.core.nc.blocks import split_comments
from shopflow.core.nc.expressions import Fault
from shopflow.core.nc.flow import FileMap
from shopflow.core.nc.text import Source
from shopflow.core.types import ControlProfile


@dataclass(frozen=True)
class Within:
    """One program of a file: number as in "O1234", lines first to last (from 1), the comment beside the number.

    is_called: another program of the file calls it, so that it goes where those go.
    """

    number: str
    first: int
    last: int
    title: str
    is_called: bool


def programs_in(source: Source, control: ControlProfile) -> tuple[Within, ...]:
    """The programs with a number, in the order of the file; () where the control has no program numbers."""
    spans = program_spans(source, control)
    called = {name for number, calls in _calls(source, control, spans).items() for name in calls if name != number}
    return tuple(
        Within(f"O{number}", first + 1, after, _title(source.line(first), control), number in called)
        for number, (first, after) in spans.items()
    )


def only(source: Source, control: ControlProfile, numbers: Collection[str]) -> bytes:
    """The bytes of these programs ("O1234") with all that they call, as they stand in the file, between its % lines.

    What stands before the first program stays; raises NotPossible for a number that is not there.
    """
    spans = program_spans(source, control)
    asked = [number.lstrip("O") for number in numbers]
    missing = next((number for number in asked if number not in spans), None)
    if missing is not None:
        raise NotPossible(f"O{missing} is not in this file.")
    wanted = _with_called(asked, _calls(source, control, spans))
    last = max(after for _, after in spans.values())
    lines = list(range(min(first for first, _ in spans.values())))
    for number, (first, after) in spans.items():
        lines += range(first, after) if number in wanted else ()
    lines += range(last, len(source))
    data = b"".join(source.data[source.starts[line] : _end(source, line)] for line in lines)
    return data if source.data.endswith((b"\n", b"\r")) else data.rstrip(b"\r\n")


def called_from(source: Source, control: ControlProfile, first: int, after: int) -> list[tuple[int, int]]:
    """The spans of the programs that these lines call, and of those that they call, in the order of the file."""
    spans = program_spans(source, control)
    if not spans:
        return []
    calls = FileMap(source, control, own=len(source)).calls_in(first, after)
    wanted = _with_called([name for name in calls if name in spans], _calls(source, control, spans))
    return [span for number, span in spans.items() if number in wanted]


def _with_called(numbers: Iterable[str], calls: Mapping[str, set[str]]) -> set[str]:
    """These programs of the file and all that they call."""
    wanted: set[str] = set()
    waiting = list(numbers)
    while waiting:
        number = waiting.pop()
        if number not in wanted:
            wanted.add(number)
            waiting += [name for name in calls[number] if name in calls]
    return wanted


def _end(source: Source, line: int) -> int:
    """The end of a line with its break."""
    return int(source.starts[line + 1]) if line + 1 < len(source) else len(source.data)


def program_spans(source: Source, control: ControlProfile) -> dict[str, tuple[int, int]]:
    """Number to first line and the one after the last (from 0); the % and the blanks at the end belong to none."""
    begins = FileMap(source, control, own=len(source)).programs if control.program_numbers else {}
    end = len(source)
    while end and source.line(end - 1).strip() in ("", "%"):
        end -= 1
    ordered = sorted(begins.items(), key=lambda item: item[1])
    afters = [*(line for _, line in ordered[1:]), end]
    return {number: (line, after) for (number, line), after in zip(ordered, afters, strict=False)}


def _calls(source: Source, control: ControlProfile, spans: dict[str, tuple[int, int]]) -> dict[str, set[str]]:
    file_map = FileMap(source, control, own=len(source))
    return {number: file_map.calls_in(*span) for number, span in spans.items()}


def _title(line: str, control: ControlProfile) -> str:
    try:
        return split_comments(line, control)[1]
    except Fault:
        return ""
