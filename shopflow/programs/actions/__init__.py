"""The only writes of this app: uploads, reviews, decisions, sign-off, edits, floor copies."""

from shopflow.programs.actions.comparisons import COMPARE, ask_comparison, compare_programs
from shopflow.programs.actions.cutting import keep_cuts, make_programs_of_parts
from shopflow.programs.actions.decisions import decide
from shopflow.programs.actions.edits import take_edits
from shopflow.programs.actions.floor_copies import copy_name, floor_copy, prove_out_copy
from shopflow.programs.actions.lapses import note_standing
from shopflow.programs.actions.lessons import keep_lesson, note_lesson, retire_lesson
from shopflow.programs.actions.made_with import say_made_with
from shopflow.programs.actions.repeating import take_proven
from shopflow.programs.actions.reviews import (
    REVIEW,
    ask_review,
    note_changes,
    note_review,
    review_again,
    review_program,
    review_what_changed,
)
from shopflow.programs.actions.signing import TWO_PERSONS, NotReady, SomeNotReady, sign_off, sign_off_all
from shopflow.programs.actions.simulations import ask_simulation, ask_simulations, note_simulation, simulate
from shopflow.programs.actions.splitting import split_off
from shopflow.programs.actions.trials import ask_trial, try_edits
from shopflow.programs.actions.uploads import upload

__all__ = [
    "COMPARE",
    "REVIEW",
    "TWO_PERSONS",
    "NotReady",
    "SomeNotReady",
    "ask_comparison",
    "ask_review",
    "ask_simulation",
    "ask_simulations",
    "ask_trial",
    "compare_programs",
    "decide",
    "keep_lesson",
    "retire_lesson",
    "say_made_with",
    "copy_name",
    "floor_copy",
    "prove_out_copy",
    "keep_cuts",
    "make_programs_of_parts",
    "note_changes",
    "note_lesson",
    "note_review",
    "note_simulation",
    "note_standing",
    "review_again",
    "review_program",
    "review_what_changed",
    "sign_off",
    "simulate",
    "sign_off_all",
    "split_off",
    "take_edits",
    "take_proven",
    "try_edits",
    "upload",
]
