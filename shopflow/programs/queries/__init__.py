"""Reads across programs: revisions, reviews, findings, and whether a sign-off holds."""

from shopflow.core.nc.text import Source
from shopflow.programs.assumptions import assumptions
from shopflow.programs.queries.findings import (
    DECIDE,
    MUST_FIX,
    NOTE,
    RANK,
    Blocking,
    Found,
    Wanted,
    as_kept,
    blocking,
    findings,
    found_in,
    newest_decisions,
    reasons_for,
)
from shopflow.programs.queries.programs import (
    content,
    drawing_of,
    fresh,
    newest,
    program_for,
    programs_of,
    reading,
    review_of,
    review_under,
    revision_for,
    setups_without_program,
    source,
)
from shopflow.programs.queries.standing import Standing, Unsigned, heavier, sign_off_standing, unsigned

__all__ = [
    "DECIDE", "MUST_FIX", "NOTE", "RANK", "Blocking", "Found", "Source", "Standing", "Unsigned", "Wanted", "as_kept",
    "assumptions", "blocking", "content", "drawing_of", "findings", "found_in", "fresh", "heavier", "newest",
    "newest_decisions",
    "program_for", "programs_of", "reading", "reasons_for", "review_of", "review_under", "revision_for",
    "setups_without_program", "sign_off_standing", "source", "unsigned",
]  # fmt: skip
