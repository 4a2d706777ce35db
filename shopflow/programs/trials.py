"""Edits tried before anybody takes them: one by itself, or those that are marked together. Reads and computes only."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

from shopflow.core import nc
from shopflow.programs import comparing
from shopflow.programs.comparing import ReadAs
from shopflow.programs.editing import Edit, apply, carry_out, described
from shopflow.programs.editing.edit import from_text
from shopflow.records import cache
from shopflow.records.models import Work

Progress = Callable[[float, str], None]

TRIAL = "try_edits"
VERSION = f"1, comparing {comparing.VERSION}"
AT_ONCE_BYTES = 150_000
"""A program up to this size is tried while the person waits: less than a second for a handful of edits."""


@dataclass(frozen=True)
class Asked:
    """content: SHA-256 of the program. edits: each as `Edit.as_text`, in a fixed order. shift: H and D are the tool's
    number plus this. together: what they change as a whole; otherwise there is one, told by itself."""

    content: str
    read_as: ReadAs
    shift: int
    edits: tuple[str, ...]
    together: bool

    @classmethod
    def of(cls, content: str, read_as: ReadAs, shift: int, edits: Iterable[Edit], *, together: bool) -> Asked:
        return cls(content, read_as, shift, tuple(sorted({edit.as_text for edit in edits})), together)


def tried(asked: Asked, data: bytes, key: str, progress: Progress) -> dict[str, Any]:
    """The result that is kept. Alone: editing.described with `as_text`. Together: `effect` (comparing.compare),
    `sayings`, and `sha256` of the edited bytes, which the cache keeps under `edited_key`.

    Raises NotPossible where they do not fit or contradict each other.
    """
    chosen = [from_text(text) for text in asked.edits]
    return _together(asked, data, chosen, key, progress) if asked.together else _alone(asked, data, chosen[0], progress)


def edited_key(key: str) -> str:
    return cache.key("edited program", work=key)


def edited(row: Work) -> bytes | None:
    """What the edits of a finished trial made of the program; None where the cache does not have it any more."""
    kept = cache.read(edited_key(row.key))
    return kept if kept is not None and hashlib.sha256(kept).hexdigest() == (row.result or {}).get("sha256") else None


def _alone(asked: Asked, data: bytes, edit: Edit, progress: Progress) -> dict[str, Any]:
    progress(5, "Reading the program")
    program = asked.read_as.read(data)
    progress(40, "Trying the edit")
    made = apply(program, edit, shift=asked.shift)
    progress(80, "Reckoning what it changes")
    seconds = asked.read_as.seconds(program)
    return described(program, made, edit, machine=asked.read_as.machine, seconds=seconds) | {"as_text": edit.as_text}


def _together(asked: Asked, data: bytes, chosen: list[Edit], key: str, progress: Progress) -> dict[str, Any]:
    readings = 0

    def read(text: bytes) -> nc.Program:
        nonlocal readings
        progress(5 + 55 * readings / len(chosen), f"Trying edit {readings + 1} of {len(chosen)}")
        readings += 1
        return asked.read_as.read(text)

    made, sayings = carry_out(read, data, chosen, shift=asked.shift)
    effect = comparing.compare(data, made, asked.read_as, lambda percent, step: progress(60 + 0.4 * percent, step))
    cache.write(edited_key(key), made)
    return {"effect": effect, "sayings": sayings, "sha256": hashlib.sha256(made).hexdigest()}
