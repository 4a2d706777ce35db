"""From bytes to lines, and the refusal of what is no program at all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shopflow.core.errors import Unreadable

_OTHER_FILES = {
    b"%PDF": "a PDF document",
    b"PK\x03\x04": "a zip archive",
    b"ISO-10303-21": "a STEP model",
    b"\x89PNG": "a picture",
    b"\xff\xd8\xff": "a picture",
    b"GIF8": "a picture",
    b"\xd0\xcf\x11\xe0": "an office document",
    b"\x7fELF": "a computer program",
}
_MEND = "Choose the NC program, a plain text file with lines such as “G1 X10. F200.”."
_TAPE_BYTES = bytes((9, 10, 11, 12, 13, 17, 18, 19, 20, 26))
"""Tab, line ends, page feed, the four reader-control codes of paper tape, and the old end-of-file mark."""


@dataclass(frozen=True, eq=False)
class Source:
    """The bytes of a program and where its lines lie.

    data: the bytes as they came. starts, ends: (n,) int64, first byte of each line and the one after its last.
    """

    data: bytes
    starts: NDArray[np.int64]
    ends: NDArray[np.int64]

    def __len__(self) -> int:
        return int(self.starts.shape[0])

    def line(self, index: int) -> str:
        """The text of a line, counted from 0; bytes that are not UTF-8 read as Latin-1."""
        raw = self.data[self.starts[index] : self.ends[index]]
        try:
            return raw.decode()
        except UnicodeDecodeError:
            return raw.decode("latin-1")


def open_source(data: bytes, *, max_bytes: int) -> Source:
    """Find the lines, or raise Unreadable for an empty file, a binary one, or one larger than max_bytes."""
    _refuse_what_is_no_program(data, max_bytes)
    raw = np.frombuffer(data, dtype=np.uint8)
    line_feed = 10 if b"\n" in data else 13
    breaks = np.flatnonzero(raw == line_feed)
    starts = np.concatenate(([0], breaks + 1)).astype(np.int64)
    ends = np.concatenate((breaks, [len(data)])).astype(np.int64)
    if starts[-1] == len(data):
        starts, ends = starts[:-1], ends[:-1]
    has_return = (ends > starts) & (raw[np.maximum(ends - 1, 0)] == 13)
    return Source(data, starts, ends - has_return)


def with_library(source: Source, library: Sequence[bytes], *, max_bytes: int) -> Source:
    """The lines of a program, and behind them those of other files."""
    texts = [b"\n".join(source.line(index).encode() for index in range(len(source))), *library]
    return open_source(b"\n".join(text.replace(b"\r", b"") for text in texts), max_bytes=max_bytes)


def _refuse_what_is_no_program(data: bytes, max_bytes: int) -> None:
    if not data.strip(b" \t\r\n\x1a\x00"):
        raise Unreadable("The file is empty.", mend=_MEND)
    if len(data) > max_bytes:
        raise Unreadable(
            f"The file has {len(data):,} bytes; programs of up to {max_bytes:,} bytes are read.",
            mend="Split it into several programs.",
        )
    for signature, kind in _OTHER_FILES.items():
        if data.startswith(signature):
            raise Unreadable(f"The file is {kind}, not an NC program.", mend=_MEND)
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise Unreadable("The file is in UTF-16.", mend="Save it as plain text (ASCII or UTF-8) and take it again.")
    _refuse_binary(data)


def _refuse_binary(data: bytes) -> None:
    counts = np.bincount(np.frombuffer(data, dtype=np.uint8), minlength=256)[:32].copy()
    counts[list(_TAPE_BYTES)] = 0
    if not counts.any():
        return
    first = min(data.find(bytes((code,))) for code in np.flatnonzero(counts))
    raise Unreadable("The file holds binary data, not the text of an NC program.", where=f"byte {first}", mend=_MEND)
