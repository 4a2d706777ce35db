"""The shop's tables as CSV: written so that reading the file again changes nothing, read line by line.

A cell that a spreadsheet would take for a formula gets an apostrophe in front, which reading takes off again. The last
column, `seen`, is a digest of the row as it was written: a row that somebody changed since is not overwritten unseen.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from hashlib import sha256

from django.core.exceptions import ValidationError
from django.db import models
from django.forms import BooleanField, ModelForm, MultipleChoiceField
from django.http import QueryDict
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from shopflow.people.models import User
from shopflow.records.canonical import canonical
from shopflow.shop import actions, queries
from shopflow.shop.actions import Written
from shopflow.shop.tables import Table
from shopflow.shop.texts import NO, YES, text_of

MOST_BYTES = 1024 * 1024
MOST_LINES = 5000
SEEN = "seen"
FORMULA = re.compile(r"'*[=+@\t\r-](?!\d+(\.\d+)?$)")
QUOTED_FORMULA = re.compile(r"'+[=+@\t\r-](?!\d+(\.\d+)?$)")
WORDS = {YES: YES, "y": YES, "true": YES, "1": YES, NO: NO, "n": NO, "false": NO, "0": NO, "": NO}


class NotCsv(Exception):
    """The file as a whole cannot be read; the text says why and what to do."""


@dataclass
class Line:
    """One line of a file that was read. number: as an editor counts. now: the digest of the row as the table has it, ""
    where it has none. written: what it would do; None if no good.
    """

    number: int
    name: str
    now: str = ""
    problems: list[str] = field(default_factory=list)
    written: Written | None = None

    @property
    def is_good(self) -> bool:
        return not self.problems

    @property
    def changes_something(self) -> bool:
        return bool(self.written and (self.written.is_new or self.written.changed))


@dataclass
class Reading:
    """A file that was read and changed nothing yet. problems: those of the whole file, such as an unknown column."""

    text: str
    lines: list[Line]
    problems: list[str]

    @property
    def good(self) -> list[Line]:
        return [line for line in self.lines if line.is_good]

    @property
    def bad(self) -> list[Line]:
        return [line for line in self.lines if not line.is_good]

    @property
    def state(self) -> str:
        """A digest of what the table says now about the rows of the file: what a person decides over."""
        return sha256(canonical([[line.name, line.now] for line in self.lines]).encode()).hexdigest()

    @property
    def is_all_good(self) -> bool:
        return not self.problems and not self.bad

    @property
    def rows(self) -> list[models.Model]:
        return [line.written.row for line in self.good if line.written and line.changes_something]


def write(table: Table, rows: Iterable[models.Model]) -> str:
    """The whole table as CSV text, with a heading and one row a line."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow([*table.columns, SEEN])
    writer.writerows([*(guarded(text_of(row, name)) for name in table.columns), _digest(table, row)] for row in rows)
    return out.getvalue()


def _digest(table: Table, row: models.Model) -> str:
    """Short, and never all figures: a spreadsheet would make a number of it."""
    return f"r{sha256(canonical([text_of(row, name) for name in table.columns]).encode()).hexdigest()[:11]}"


def guarded(text: str) -> str:
    return f"'{text}" if FORMULA.match(text) else text


def unguarded(text: str) -> str:
    return text[1:] if QUOTED_FORMULA.match(text) else text


def decode(data: bytes) -> tuple[str, list[str]]:
    """The text of a file, and what had to be guessed about it."""
    if len(data) > MOST_BYTES:
        raise NotCsv(_("The file is larger than 1 MB. A table of this shop is not: choose the right file."))
    if b"\0" in data:
        raise NotCsv(_("This is not a text file. Save the table as CSV (UTF-8) and choose that file."))
    try:
        return data.decode("utf-8-sig"), []
    except UnicodeDecodeError:
        guess = _("The file is not UTF-8. It was read as Western European: look at letters with accents.")
        return data.decode("cp1252", errors="replace"), [guess]


def read(table: Table, text: str, problems: Iterable[str] = ()) -> Reading:
    """Read a file against the table as it is now, changing nothing. Raises NotCsv."""
    heading, cells = _split(text)
    unknown = [name for name in heading if name not in (*table.columns, SEEN)]
    _refuse_without_key(table, heading)
    found = [*problems, *(_("The column “%(name)s” is not known and was left out.") % {"name": n} for n in unknown)]
    return Reading(text, list(_lines(table, heading, cells)), found)


def _split(text: str) -> tuple[list[str], list[tuple[int, list[str]]]]:
    first = text.lstrip("\r\n").split("\n", 1)[0]
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=max(",;\t", key=first.count), strict=True)
    try:
        lines = [(reader.line_num, [cell.strip() for cell in cells]) for cells in reader if any(map(str.strip, cells))]
    except csv.Error as error:
        place = {"line": reader.line_num, "why": error}
        said = _("Line %(line)d breaks the rules of CSV (%(why)s): look at its quotation marks.") % place
        raise NotCsv(said) from error
    if not lines:
        raise NotCsv(_("The file is empty."))
    if len(lines) > MOST_LINES:
        raise NotCsv(_("The file has more than %(most)d lines.") % {"most": MOST_LINES})
    return lines[0][1], lines[1:]


def _refuse_without_key(table: Table, heading: list[str]) -> None:
    if table.kind.key not in heading:
        raise NotCsv(
            _("The first line must name the columns, “%(key)s” among them; the file that this page gives has them all.")
            % {"key": table.kind.key}
        )
    if len(set(heading)) < len(heading):
        raise NotCsv(_("The first line names a column twice."))


def _lines(table: Table, heading: list[str], all_cells: list[tuple[int, list[str]]]) -> Iterator[Line]:
    kept = {text_of(row, table.kind.key): row for row in table.model._default_manager.all()}
    seen: dict[str, int] = {}
    for number, cells in all_cells:
        line = Line(number, name=cells[heading.index(table.kind.key)] if len(cells) == len(heading) else "")
        if len(cells) != len(heading):
            line.problems.append(_cells(len(cells), len(heading)))
        elif line.name in seen:
            line.problems.append(_("Line %(line)d is about the same one.") % {"line": seen[line.name]})
        else:
            seen[line.name] = number
            row = kept.get(unguarded(line.name)) or table.model()
            line.now = _digest(table, row) if row.pk else ""
            _read_line(table, line, row, {n: unguarded(c) for n, c in zip(heading, cells, strict=True)})
        yield line


def _cells(found: int, wanted: int) -> str:
    return ngettext(
        "It has %(found)d cell, the first line has %(wanted)d.",
        "It has %(found)d cells, the first line has %(wanted)d.",
        found,
    ) % {"found": found, "wanted": wanted}


def _read_line(table: Table, line: Line, row: models.Model, cells: dict[str, str]) -> None:
    texts = {name: cells.get(name, text_of(row, name)) for name in table.columns}
    line.problems += _not_yes_or_no(table.form, texts)
    form = table.form(_as_typed(table.form, texts), instance=row)
    if not form.is_valid() or line.problems:
        line.problems += [_problem(table, name, cells, errors) for name, errors in form.errors.items()]
        return
    try:
        actions.check(form.instance)
    except ValidationError as refusal:
        line.problems += [_problem(table, name, cells, errors) for name, errors in refusal.message_dict.items()]
        return
    line.written = actions.compare(form.instance)
    line.problems += _overtaken(table, line, cells.get(SEEN, ""))


def _overtaken(table: Table, line: Line, seen: str) -> Iterator[str]:
    """What somebody saved since the file was written, where the line would overwrite it; `seen` left out asks not."""
    if not (seen and line.now and seen != line.now and line.changes_something and line.written):
        return
    saved = [f"{name} “{text}”" for name, text in line.written.before.items()]
    who = queries.last_by(table.kind.name, line.written.row.pk) or _("Somebody else")
    yield _(
        "%(who)s saved this row after the file was written. The table says now: %(saved)s. Type that where it is to "
        "stay, and empty the line's cell “seen”: then it is taken as the file says it."
    ) % {"who": who, "saved": ", ".join(saved)}


def _is_yes_or_no(form: type[ModelForm], name: str) -> bool:  # type: ignore[type-arg]
    return isinstance(form.base_fields[name], BooleanField)


def _not_yes_or_no(form: type[ModelForm], texts: dict[str, str]) -> list[str]:  # type: ignore[type-arg]
    """A box that is ticked or not takes any word: a file must say it in one that is known."""
    odd = [(name, text) for name, text in texts.items() if _is_yes_or_no(form, name) and text.lower() not in WORDS]
    return [_("%(name)s “%(text)s”: type yes or no.") % {"name": name, "text": text} for name, text in odd]


def _as_typed(form: type[ModelForm], texts: dict[str, str]) -> QueryDict:  # type: ignore[type-arg]
    """The cells as a browser would send them: a list apart, and a box that is not ticked left out."""
    data = QueryDict(mutable=True)
    for name, text in texts.items():
        kind = form.base_fields[name]
        if isinstance(kind, MultipleChoiceField):
            data.setlist(name, [part.strip() for part in text.split(";") if part.strip()])
        elif _is_yes_or_no(form, name):
            data[name] = {YES: "true", NO: "false"}.get(WORDS.get(text.lower(), ""), "")
        else:
            data[name] = text
    return data


def _problem(table: Table, name: str, cells: dict[str, str], errors: Iterable[object]) -> str:
    said = " ".join(str(error) for error in errors)
    if name not in table.columns:
        return said
    return f"{name} “{cells.get(name, '')}”: {said}"


def apply(reading: Reading, *, by: User) -> list[Written]:
    """Save the good lines of a file that was read, all or none."""
    return actions.save_all(reading.rows, by=by)
