"""Reasons to pick from fit the finding: of its rule's family, of this part and this shop before what is usual."""

import pytest

from shopflow.core.review.catalogue import CATALOGUE
from shopflow.programs import queries
from shopflow.programs.models import Decision
from shopflow.programs.queries.reasons import ACCEPT, FAMILY, MEND, USUAL
from tests.programs.objects import a_planned_job, a_program, upload

pytestmark = pytest.mark.django_db


@pytest.fixture
def revision(job, owner):
    return upload(job, a_program(depth=4), by=owner)


def given(revision, owner, reason, code, verdict=ACCEPT):
    return Decision.objects.create(
        revision=revision, finding_key=f"{code}-{reason}", code=code, verdict=verdict, reason=reason,
        decided_by=owner,
    )  # fmt: skip


def offered(revision, *codes, verdict=ACCEPT):
    return [one.text for one in queries.reasons_for(revision, codes) if one.verdict == verdict]


def test_every_family_of_rules_has_a_usual_reason():
    assert set(USUAL) == {entry.family for entry in CATALOGUE}


def test_a_reason_of_another_family_is_not_offered(revision, owner):
    given(revision, owner, "air clears the chips here", "cuts-dry")
    assert "air clears the chips here" not in offered(revision, "carbide-full-retract")


def test_a_reason_of_the_same_family_is_offered_after_those_of_the_rule(revision, owner):
    given(revision, owner, "of the rule", "carbide-full-retract")
    given(revision, owner, "of the family", "carbide-drill-dry")
    assert offered(revision, "carbide-full-retract")[:2] == ["of the rule", "of the family"]


def test_reasons_of_this_part_come_before_those_of_other_parts_and_usual_ones_last(revision, owner):
    other = upload(a_planned_job(owner, part_number="OTHER-1"), a_program(depth=4), by=owner)
    given(revision, owner, "of this part", "carbide-full-retract")
    given(other, owner, "of another part", "carbide-full-retract")
    found = queries.reasons_for(revision, ["carbide-full-retract"])
    assert [one.origin for one in found][:3] == ["part", "shop", "usual"]


def test_a_reason_says_which_of_the_marked_rules_it_fits(revision, owner):
    given(revision, owner, "short chips", "carbide-full-retract")
    (reason,) = [
        one for one in queries.reasons_for(revision, ["carbide-full-retract", "cuts-dry"]) if one.text == "short chips"
    ]
    assert reason.codes == {"carbide-full-retract"}


def test_a_reason_for_mending_is_not_offered_for_accepting(revision, owner):
    given(revision, owner, "comes anew", "carbide-full-retract", verdict=MEND)
    assert "comes anew" in offered(revision, "carbide-full-retract", verdict=MEND)
    assert "comes anew" not in offered(revision, "carbide-full-retract")


def test_codes_of_the_reader_are_of_the_family_reading(revision):
    assert "some-code-of-the-reader" not in FAMILY
    assert str(USUAL["Reading"][0]) in offered(revision, "some-code-of-the-reader")
