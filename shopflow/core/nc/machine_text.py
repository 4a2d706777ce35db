"""How a machine wants its files: names, numbers, line ends, memory, comments. A floor copy keeps to it."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

from shopflow.core.errors import NotPossible
from shopflow.core.nc.blocks import parted
from shopflow.core.nc.expressions import Fault
from shopflow.core.nc.program import Program

LEAST_COMMENT = 5
"""Characters without which no message could be read."""


@dataclass(frozen=True)
class MachineText:
    """How a machine wants its files.

    program_number: "O1234" to give the copy, "" to leave it. number_range: smallest and largest number it takes.
    comment_length: characters between the parentheses of one comment. own_comments_plain: whether the comments of the
    program itself are made short and plain as well, not only those that the copy adds. max_bytes: its memory, 0 for no
    limit. percent_signs: whether a lone % must open and close the file. name_by_number: whether a file is called by
    the number inside (O1234). name_length: characters before the point of a file's name, 0 for no limit. name_ending:
    what stands behind the point, "" to leave it.
    """

    program_number: str = ""
    number_range: tuple[int, int] = (0, 99_999_999)
    line_end: str = "\r\n"
    comment_length: int = 60
    own_comments_plain: bool = False
    max_bytes: int = 0
    percent_signs: bool = False
    name_by_number: bool = False
    name_length: int = 0
    name_ending: str = ""


def comment_lines(text: str, length: int) -> list[str]:
    """A text as plain comments: upper case ASCII, no parentheses inside, broken at blanks into lines of this length."""
    folded = unicodedata.normalize("NFKD", text.upper()).encode("ascii", "ignore").decode().upper()
    clean = " ".join(re.sub(r"[()\[\];%/]", " ", folded).split())
    lines: list[str] = []
    current = ""
    for word in clean.split(" "):
        while len(word) > length:
            lines += [current] if current else []
            current, lines, word = "", [*lines, word[:length]], word[length:]
        if current and len(current) + 1 + len(word) > length:
            lines.append(current)
            current = word
        else:
            current = f"{current} {word}".strip()
    lines += [current] if current else []
    return [f"({line})" for line in lines]


def plain_line(text: str, program: Program, length: int) -> tuple[str, list[str]]:
    """A line with its comments made plain and behind its code, and comment lines for what does not fit into it.

    A line without comments, or whose comments are not read, stays as it is.
    """
    try:
        code, comments = parted(text, program.control)
    except Fault:
        return text, []
    if not comments or not code.isascii():
        return text, []
    first, *rest = comment_lines(" ".join(comments), length) or [""]
    return " ".join(part for part in (code.rstrip(), first) if part), rest


def file_name(program: Program, name: str, rules: MachineText) -> str:
    """What the copy is called on the machine; name: what people call the program. Raises NotPossible."""
    stem, point, ending = name.rpartition(".") if "." in name else (name, "", "")
    if rules.name_by_number:
        stem = rules.program_number or program.number
        if not stem:
            raise NotPossible(f"{name} has no program number, and the machine's files are called by it: give it one.")
    ending = rules.name_ending.lstrip(".") or ending
    if rules.name_length and len(stem) > rules.name_length:
        raise NotPossible(f"{stem} has {len(stem)} characters; the machine takes names of {rules.name_length}.")
    return f"{stem}.{ending}" if ending else stem


def check_number(program: Program, rules: MachineText) -> str:
    """The number to give the copy, "" to leave it as it is; NotPossible for one that the machine does not take."""
    low, high = rules.number_range
    if rules.program_number and not program.control.program_numbers:
        raise NotPossible(f"{program.control.title} knows no program numbers; leave the number out.")
    number = rules.program_number or program.number
    digits = number.lstrip("Oo")
    if number and (not digits.isdigit() or not low <= int(digits) <= high):
        raise NotPossible(f"{number} is no program number of this machine: O{low} to O{high}.")
    return f"O{digits}" if rules.program_number else ""
