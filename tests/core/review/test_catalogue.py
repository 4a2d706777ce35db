"""The catalogue of findings, and the guide made from it, say what the code does."""

import re
from pathlib import Path

from shopflow.core.review import catalogue
from shopflow.core.review.house_rules import DEFAULTS, REVIEW_LIMITS

REVIEW = Path(catalogue.__file__).parent
GUIDE = REVIEW.parents[1] / "docs" / "review-rules.md"
CODE = re.compile(r'"([a-z]+(?:-[a-z]+)+)"|f"(feeds-too|too)-\{')
NO_CODES = {"must-fix"} | {
    "units-not-stated", "distance-not-stated", "start-assumed", "motion-not-stated", "offset-not-stated",
    "repeats-forever",
}  # fmt: skip


def codes_in_the_rules():
    found = set()
    for path in [*REVIEW.glob("*_rules.py"), REVIEW / "__init__.py"]:
        if path.name == "house_rules.py":
            continue
        for code, stem in CODE.findall(path.read_text()):
            found |= {f"{stem}-fast", f"{stem}-slow"} if stem else {code}
    return found | {"gouge"}


def test_every_code_of_the_rules_is_in_the_catalogue_and_no_other():
    assert {entry.code for entry in catalogue.CATALOGUE} == codes_in_the_rules() - NO_CODES


def test_no_code_stands_twice():
    codes = [entry.code for entry in catalogue.CATALOGUE]
    assert len(codes) == len(set(codes))


def test_every_limit_of_the_review_is_used_by_a_finding():
    named = {key for entry in catalogue.CATALOGUE for key in entry.limits}
    assert named <= {rule.key for rule in DEFAULTS}
    assert {rule.key for rule in REVIEW_LIMITS} <= named


def test_every_entry_says_where_its_limit_comes_from():
    assert all(entry.limits or entry.basis for entry in catalogue.CATALOGUE)


def test_the_guide_is_what_the_code_makes():
    """Made anew with: python -m shopflow.core.review.catalogue > shopflow/docs/review-rules.md."""
    assert GUIDE.read_text() == catalogue.document()
