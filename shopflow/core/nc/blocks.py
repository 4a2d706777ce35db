"""One line of text to one block of words [NISTIR 6556, 3.3]."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from shopflow.core.nc.expressions import NUMBER, Fault, ReadVariable, Scanner, whole
from shopflow.core.types import ControlProfile

_STATEMENT = re.compile(r"(?:N\d+)?(IF|WHILE|WH|GOTO|DO|END)(?=[\[#\d])", re.ASCII)
LONGEST_BLOCK = 10_000
"""Characters, where the control sets no limit of its own; a longer line is no block that a person wrote."""

LARGEST = 1e9
"""No word means more than this; larger values would only overflow further on."""

_PLAIN_BLOCK = re.compile(r"(?:[A-Z][+-]?(?:\d+(?:\.\d*)?|\.\d+))*")
_PLAIN_WORD = re.compile(r"([A-Z])([+-]?[\d.]+)")
_PARENTHESES = re.compile(r"\([^()]*\)")
_COMMENT = re.compile(r"\([^()]*\)|;.*")
_BLANKS = str.maketrans("", "", " \t\r\v\f")


@dataclass(frozen=True, slots=True)
class Word:
    """A letter and its value. pointed: it had a decimal point or was computed, so no least increments are meant."""

    letter: str
    value: float
    pointed: bool
    text: str


@dataclass(frozen=True, slots=True)
class Flow:
    """A macro statement that says where to go on. kind: GOTO, DO (also of a WHILE) or END. holds: its condition."""

    kind: str
    number: int
    holds: bool = True


@dataclass(slots=True)
class Block:
    """The words of one line, in the order written. settings: (#n, value) pairs. deletable: begins with a slash."""

    words: list[Word] = field(default_factory=list)
    settings: list[tuple[int, float]] = field(default_factory=list)
    comment: str = ""
    deletable: bool = False
    flow: Flow | None = None


def split_comments(line: str, control: ControlProfile) -> tuple[str, str]:
    """The code of a line, without blanks and in upper case, and its last comment; raises Fault [3.3.4]."""
    line, comments = parted(line, control)
    if not line.isascii():
        strange = next(character for character in line if not character.isascii())
        raise Fault(f"“{strange}” is not a character of a word")
    return line.translate(_BLANKS).upper(), comments[-1] if comments else ""


def parted(line: str, control: ControlProfile) -> tuple[str, list[str]]:
    """The code of a line as it is written, and its comments in order without their marks; raises Fault [3.3.4]."""
    behind: list[str] = []
    if control.slash_comments and "//" in line:
        line, _, comment = line.partition("//")
        behind = [comment.strip()]
    if control.nested_comments and "(" in line:
        line = _without_inner(line)
    if "(" not in line and ")" not in line and ";" not in line:
        return line, behind
    pattern = _COMMENT if control.semicolon_comments else _PARENTHESES
    comments = [match[0].removesuffix(")").lstrip("(;").strip() for match in pattern.finditer(line)]
    line = pattern.sub("", line)
    _refuse_loose_parenthesis(line)
    return line, comments + behind


def _without_inner(line: str) -> str:
    """The line with the parentheses inside comments turned into blanks."""
    depth = 0
    out = []
    for character in line:
        depth -= character == ")" and depth > 0
        inner = character in "()" and depth > 0
        depth += character == "("
        out.append(" " if inner else character)
    return "".join(out)


def _refuse_loose_parenthesis(code: str) -> None:
    if "(" in code and ")" in code:
        raise Fault("a comment holds another one; where it ends depends on the control")
    if "(" in code:
        raise Fault("a comment is not closed")
    if ")" in code:
        raise Fault("a closing parenthesis has no opening one before it")


def read_block(line: str, control: ControlProfile, variable: ReadVariable) -> Block:
    """The block of a line; values are computed with the variables as they are before it. Raises Fault."""
    longest = control.line_length or LONGEST_BLOCK
    if len(line) > longest:
        raise Fault(f"the block has {len(line)} characters; at most {longest} are read")
    code, comment = split_comments(line, control)
    block = Block(comment=comment)
    if code.startswith("/"):
        block.deletable, code = True, code[1:]
        if control.program_numbers:
            code = code.lstrip("123456789")  # /2 is skipped by its own switch (common practice, no source)
    if control.macros and (statement := _STATEMENT.match(code)):
        _read_statement(Scanner(code[statement.end() :], variable, control), statement[1], block)
        return block
    if _PLAIN_BLOCK.fullmatch(code):
        block.words = [
            Word(letter, float(text), "." in text, letter + text) for letter, text in _PLAIN_WORD.findall(code)
        ]
    else:
        _scan(code, block, control, variable)
    _take_sequence_number(block, control)
    for word in block.words:
        if not -LARGEST <= word.value <= LARGEST:
            raise Fault(f"the value of {word.text[:12]} is beyond any machine")
    return block


def _scan(code: str, block: Block, control: ControlProfile, variable: ReadVariable) -> None:
    scanner = Scanner(code, variable, control)
    while not scanner.ended:
        if scanner.peek() == "#":
            block.settings.append(_setting(scanner))
        else:
            word = _word(scanner)
            if word.value == word.value:  # a word with a vacant variable is not there
                block.words.append(word)


def _read_statement(scanner: Scanner, keyword: str, block: Block) -> None:
    """IF, GOTO, WHILE, DO and END of the common macro language (common practice, no source)."""
    holds = True
    if keyword in ("IF", "WHILE", "WH"):
        value = scanner.bracketed()
        holds = value != 0.0 and value == value
        if keyword == "IF" and scanner.skip("THEN"):
            block.settings = _settings(scanner) if holds else []
            return
        keyword = "GOTO" if keyword == "IF" else "DO"
        if not scanner.skip(keyword):
            raise Fault(f"{keyword} is missing behind a condition")
    number = whole(scanner.value(), f"the number of {keyword}")
    if not scanner.ended:
        raise Fault(f"“{scanner.text[scanner.at :][:12]}” stands behind a {keyword}")
    block.flow = Flow(keyword, number, holds)


def _settings(scanner: Scanner) -> list[tuple[int, float]]:
    settings = [_setting(scanner)]
    while not scanner.ended:
        settings.append(_setting(scanner))
    return settings


def _setting(scanner: Scanner) -> tuple[int, float]:
    number = scanner.variable_number()
    if not scanner.skip("="):
        raise Fault(f"the = after #{number} is missing")
    return number, scanner.assigned()


def _word(scanner: Scanner) -> Word:
    begin = scanner.at
    if scanner.corner_words and scanner.skip(","):
        letter = scanner.peek()
        if letter not in ("R", "C"):
            raise Fault("a comma stands before R or C only")
    letter = scanner.peek()
    if not ("A" <= letter <= "Z"):
        raise Fault(f"“{scanner.text[begin:][:12]}” is not a word")
    scanner.at += 1
    number = NUMBER.match(scanner.text, scanner.at)
    value = scanner.value()
    text = scanner.text[begin : scanner.at]
    letter = "," + letter if text.startswith(",") else letter
    return Word(letter, value, number is None or "." in number[0], text)


def _take_sequence_number(block: Block, control: ControlProfile) -> None:
    """N may only stand first; its value means nothing to the motions, so it is checked and dropped [3.3.1]."""
    if not block.words or all(word.letter != "N" for word in block.words):
        return
    word = block.words.pop(0)
    if word.letter != "N" or any(other.letter == "N" for other in block.words):
        raise Fault("the N word must stand first, and once")
    if whole(word.value, "N") < 0 or len(word.text) - 1 > control.sequence_digits:
        raise Fault(f"{word.text} has more than {control.sequence_digits} digits")
