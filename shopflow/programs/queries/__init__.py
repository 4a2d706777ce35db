"""Reads across programs: revisions, reviews, findings, and whether a sign-off holds."""

from shopflow.core.nc.text import Source
from shopflow.programs.assumptions import assumptions
from shopflow.programs.queries.edits import marked_edits, read_as, trial_of, with_edits
from shopflow.programs.queries.findings import (
    Found,
    as_kept,
    found_in,
    newest_decisions,
)
from shopflow.programs.queries.lessons import (
    all_lessons,
    learned_for,
    lessons_about,
    lessons_for,
    lessons_of_job,
    told_of,
    tools_of,
    tools_of_job,
)
from shopflow.programs.queries.life import Short, short_of, tools_short, tools_used_up, uses_a_piece, uses_of
from shopflow.programs.queries.made_with import all_makers, recent_makers
from shopflow.programs.queries.open import Blocking, Wanted, blocking, findings
from shopflow.programs.queries.parts import cuts_of, parts_of, read_parts
from shopflow.programs.queries.programs import (
    base_of,
    content,
    fresh,
    newest,
    program_for,
    programs_of,
    revision_for,
    setups_without_program,
    signed_revisions,
    source,
)
from shopflow.programs.queries.reasons import reasons_for
from shopflow.programs.queries.renumbering import warnings_of
from shopflow.programs.queries.repeats import Offer, differs_since, offers
from shopflow.programs.queries.reviewed import Among, Reviewed, reading, restarts_in, review_of
from shopflow.programs.queries.rule_set import RuleSet, rule_set_of
from shopflow.programs.queries.signing import TWO_PERSONS, NotReady, ToSign, require_ready, to_sign, why_not
from shopflow.programs.queries.standing import Standing, Unsigned, heavier, sign_off_standing, standing_of, unsigned

__all__ = [
    "TWO_PERSONS", "Among", "Blocking", "Found", "NotReady", "Offer", "Reviewed",
    "RuleSet", "Short", "Source", "Standing", "short_of", "tools_short", "tools_used_up", "uses_a_piece", "uses_of",
    "all_lessons", "all_makers", "recent_makers",
    "lessons_about", "lessons_of_job", "told_of", "tools_of_job",
    "ToSign", "Unsigned", "Wanted", "as_kept", "assumptions", "base_of", "blocking",
    "content", "cuts_of", "differs_since", "findings", "found_in", "fresh", "heavier", "learned_for", "lessons_for",
    "marked_edits", "newest", "newest_decisions", "offers", "parts_of", "program_for", "programs_of", "read_as",
    "read_parts", "reading", "reasons_for", "require_ready", "restarts_in", "review_of", "revision_for",
    "rule_set_of", "setups_without_program", "sign_off_standing", "signed_revisions", "source", "standing_of",
    "to_sign", "tools_of", "trial_of", "unsigned", "warnings_of", "why_not", "with_edits",
]  # fmt: skip
