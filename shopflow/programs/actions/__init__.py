"""The only writes of this app: uploads, reviews, decisions, sign-off, edits, floor copies."""

from shopflow.programs.actions.decisions import decide
from shopflow.programs.actions.lapses import note_standing
from shopflow.programs.actions.reviews import (
    REVIEW,
    ask_review,
    note_changes,
    note_review,
    review_again,
    review_program,
    review_what_changed,
)
from shopflow.programs.actions.signing import TWO_PERSONS, NotReady, sign_off
from shopflow.programs.actions.uploads import upload

__all__ = [
    "REVIEW",
    "TWO_PERSONS",
    "NotReady",
    "ask_review",
    "decide",
    "note_changes",
    "note_review",
    "note_standing",
    "review_again",
    "review_program",
    "review_what_changed",
    "sign_off",
    "upload",
]
