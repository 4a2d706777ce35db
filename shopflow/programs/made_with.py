"""Where a program comes from: what a header comment says outright, offered to a person to be confirmed."""

from __future__ import annotations

import re

HEADER_BYTES = 4000
"""Such comments stand in front of the first motion."""

_COMMENT = re.compile(r"\(([^()\r\n]{3,160})\)|;[ \t]*([^\r\n]{3,160})")
_SAYS = re.compile(
    r"(?:generated|created|made|posted|output) (?:by|with|from)[ :]+(.+)"
    r"|(?:generator|post[- ]?processor|toolpaths? (?:by|from))[ ]*[:=][ ]*(.+)",
    re.IGNORECASE,
)
_LEAST_LETTERS = 3


def said_in(data: bytes) -> str:
    """What a comment of the header names as the program's generator; "" unless exactly one does, in words for it."""
    text = data[:HEADER_BYTES].decode("utf-8", errors="replace")
    found = {made for comment in _COMMENT.findall(text) if (made := _named(comment[0] or comment[1]))}
    return found.pop() if len(found) == 1 else ""


def _named(comment: str) -> str:
    match = _SAYS.match(" ".join(comment.split()))
    if match is None:
        return ""
    made = (match[1] or match[2]).strip(" .,:;-")[:120]
    return made if sum(letter.isalpha() for letter in made) >= _LEAST_LETTERS else ""
