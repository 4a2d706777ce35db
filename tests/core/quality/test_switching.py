"""Switching between normal, tightened and reduced inspection, against MIL-STD-105E 4.7 and the kept table of rules."""

import csv
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.core.quality.milstd105e import AQLS
from shopflow.core.quality.sampling import Severity, asked_of, read_rule, single
from shopflow.core.quality.switching import LotResult, Said, standing

RULES = Path(__file__).resolve().parents[4] / "shared" / "reference" / "milstd105e-switching.csv"
TIGHTENED, REDUCED, STOPPED = Severity.TIGHTENED, Severity.REDUCED, Severity.STOPPED


def lots(text, start=1):
    """ "+": accepted, "-": not, "~": accepted between the two numbers of a reduced plan."""
    return [LotResult(str(n), one != "-", accepted_between=one == "~") for n, one in enumerate(text, start=start)]


@pytest.mark.parametrize(
    ("text", "severity"),
    [("", "normal"), ("-", "normal"), ("-+-", "tightened"), ("--", "tightened"), ("-+++-", "tightened"),
     ("-++++-", "normal"), ("+++-++++-", "normal")],
)  # fmt: skip
def test_two_of_five_consecutive_lots_not_accepted_tighten_inspection(text, severity):
    """4.7.1: of five or fewer consecutive lots on original inspection."""
    assert standing(lots(text)).severity == severity


@pytest.mark.parametrize(
    ("text", "severity"), [("--++++", "tightened"), ("--+++++", "normal"), ("--++-+++++", "normal")]
)
def test_five_consecutive_lots_accepted_on_tightened_bring_normal_back(text, severity):
    assert standing(lots(text)).severity == severity


def test_five_lots_not_accepted_on_tightened_in_all_end_sampling():
    """Revision E counts the lots not accepted; earlier revisions counted ten consecutive lots on tightened."""
    assert standing(lots("--" + "-++-++-+-")).severity == TIGHTENED
    assert standing(lots("--" + "-++-++-+--")).severity == STOPPED


def test_once_ended_sampling_begins_again_only_by_a_person():
    ended = [*lots("--" + "-----"), *lots("++++++++++", start=8)]
    assert standing(ended).severity == STOPPED
    assert standing([*ended, Said(TIGHTENED, "the spindle was mended")]).severity == TIGHTENED


def test_ten_accepted_lots_let_a_person_reduce_it_and_never_reduce_it_alone():
    now = standing(lots("+" * 10))
    assert (now.severity, now.may_be_reduced) == ("normal", True)
    assert not standing(lots("+" * 9)).may_be_reduced


@pytest.mark.parametrize(("text", "severity"), [("+++", "reduced"), ("+-", "normal"), ("+~", "normal")])
def test_reduced_inspection_ends_with_a_lot_not_accepted_or_accepted_between(text, severity):
    assert standing([Said(REDUCED, "steady"), *lots(text)]).severity == severity


def test_it_says_which_lots_made_it_stricter():
    assert standing(lots("-+-")).why == "2 of 3 consecutive lots not accepted: 1, 3"


def test_what_a_person_set_says_the_reason():
    assert standing([Said(TIGHTENED, "new machine")]).why == "set by a person: new machine"


def test_the_last_ten_samples_are_counted_for_the_limit_number():
    results = [LotResult(str(n), True, measured=20, missed=n % 2) for n in range(12)]
    assert standing(results).last_ten == (200, 5)


@given(st.lists(st.sampled_from("+-")))
def test_normal_inspection_never_outlasts_two_lots_not_accepted_in_a_row(text):
    now = standing(lots(text))
    assert not (now.severity == "normal" and [one.is_accepted for one in now.since[-2:]] == [False, False])


@pytest.mark.skipif(not RULES.exists(), reason="the table of switching rules lies beside the repository")
def test_the_rules_are_those_of_the_kept_table():
    rows = csv.DictReader(line for line in RULES.read_text().splitlines() if not line.startswith("#"))
    said = {(row["from"], row["to"]): row["condition"] for row in rows}
    assert "2 of 5" in said["normal", "tightened"] and "5 consecutive lots accepted" in said["tightened", "normal"]
    assert "reaches 5" in said["tightened", "stop"] and "10 preceding lots" in said["normal", "reduced"]
    assert "between Ac and Re" in said["reduced", "normal"]


@given(st.integers(2, 600_000), st.sampled_from(AQLS))
def test_a_tightened_plan_is_never_easier_than_the_normal_one(lot, aql):
    """Over its sample it lets at most the same share miss."""
    normal, tight = single(lot, aql), single(lot, aql, severity=TIGHTENED)
    assert tight.accept / tight.size <= normal.accept / normal.size and tight.size <= lot


@given(st.integers(2, 600_000), st.sampled_from(AQLS))
def test_a_reduced_sample_is_never_larger_than_the_normal_one(lot, aql):
    assert single(lot, aql, severity=REDUCED).size <= single(lot, aql).size


def test_every_piece_is_measured_where_sampling_has_ended():
    assert asked_of(read_rule("AQL 4.0"), 30, severity=STOPPED).pieces == frozenset(range(1, 31))
