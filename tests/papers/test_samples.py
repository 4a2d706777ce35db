"""Papers say which pieces were asked for, by which sampling plan, and go on saying it when inspection was switched."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.core.quality import sampling
from shopflow.core.quality.milstd105e import TIGHTENED_SINGLE
from shopflow.core.quality.sampling import Severity
from shopflow.floor.models import Paper
from shopflow.inspection import actions as inspection
from shopflow.inspection import switching_actions
from shopflow.jobs.models import Characteristic
from shopflow.papers import certificate, reports, spread
from shopflow.papers.inspection_sheet import may_be_asked, sheet_of
from shopflow.papers.samples import runs
from shopflow.records.canonical import digest
from tests.floor.objects import op
from tests.inspection.objects import at_the_bench, balloon

pytestmark = pytest.mark.django_db


@pytest.fixture
def lot(lead):
    """Twelve pieces; of the bore three are drawn (letter B), of the length every one is measured."""
    found = at_the_bench(lead, quantity=12)
    found.job.characteristics.filter(number=1).update(sampling="AQL 4.0 level II")
    found.job.characteristics.filter(number=2).update(sampling="all")
    return found


def measured(lot, lead, value="10.02"):
    row = next(row for row in inspection.queries.table(lot, op(lot, 40)) if row.characteristic.number == 1)
    for piece in sorted(row.asked.pieces):
        inspection.measure(balloon(lot, 1), lot, piece, value, by=lead)


def report(lot):
    return Paper(job=lot.job, lot=lot, kind=Paper.Kind.INSPECTION)


def sample(lot):
    return reports.inspection_report(report(lot))["samples"][0]


def test_a_report_says_the_plan_and_what_its_sample_said(lot, lead):
    measured(lot, lead)
    told = sample(lot)
    assert {name: told[name] for name in ("rule", "severity", "letter", "lot", "size", "accept", "reject")} == {
        "rule": "AQL 4.0 level II", "severity": "normal", "letter": "B", "lot": 12, "size": 3, "accept": 0, "reject": 1,
    }  # fmt: skip
    assert (told["missed"], told["result"]) == (0, "accepted")


def test_a_report_says_after_how_many_pieces_a_sample_refused_the_lot(lot, lead):
    measured(lot, lead, "10.06")
    told = sample(lot)
    assert (told["missed"], told["measured"], told["result"]) == (1, 1, "not accepted")


def test_a_report_before_the_sample_is_measured_says_the_plan_without_a_result(lot):
    assert "result" not in sample(lot) and sample(lot)["size"] == 3


def test_what_is_measured_of_every_piece_is_said_in_words(lot):
    assert [one["rule"] for one in reports.inspection_report(report(lot))["samples"]][1] == "every piece"


def test_a_report_where_no_sampling_is_said_prints_none(lead):
    assert "samples" not in reports.inspection_report(report(at_the_bench(lead)))


def test_a_later_switch_leaves_a_report_as_it_was(lot, lead):
    measured(lot, lead)
    before = digest(reports.inspection_report(report(lot)))
    switching_actions.say_severity(balloon(lot, 1), Severity.TIGHTENED, reason="new machine", by=lead)
    assert digest(reports.inspection_report(report(lot))) == before


def test_another_table_of_plans_leaves_a_report_as_it_was(lot, lead, monkeypatch):
    measured(lot, lead)
    before = digest(reports.inspection_report(report(lot)))
    monkeypatch.setattr(sampling, "NORMAL_SINGLE", TIGHTENED_SINGLE)
    assert digest(reports.inspection_report(report(lot))) == before


def test_pieces_lost_after_the_sample_change_nothing_of_it(lot, lead):
    measured(lot, lead)
    before = sample(lot)
    lot.standings.filter(step=op(lot, 40)).update(quantity=5)
    assert sample(lot) == before


def test_a_certificate_tells_what_was_accepted_by_sample(lot, lead):
    measured(lot, lead)
    (told,) = certificate.samples_of(lot)
    assert (told["numbers"], told["size"], told["accept"], told["result"]) == ("1", 3, 0, "accepted")


def test_the_sheet_says_the_plan_of_the_lot_that_is_made(lot):
    ((size, told),) = sheet_of(lot.job, op(lot, 40)).samples
    assert (size, told[0]["severity"], told[0]["size"]) == (12, "normal", 3)


@pytest.mark.parametrize(
    ("sampling", "asked"),
    [("first", {1}), ("1 in 5", {1, 6}), ("all", set(range(1, 11))), ("AQL 1.0 level II", set(range(1, 11))),
     ("", set(range(1, 11)))],
)  # fmt: skip
def test_the_sheet_dashes_what_is_not_asked_for(sampling, asked):
    cells = may_be_asked(Characteristic(sampling=sampling), list(range(1, 11)))
    assert {piece for piece, may in enumerate(cells, start=1) if may} == asked


def test_what_only_the_first_piece_is_asked_for_stands_in_the_first_block_alone(lot):
    lot.job.characteristics.filter(number=1).update(sampling="first")
    blocks = sheet_of(lot.job, op(lot, 40)).blocks
    assert [[row.characteristic.number for row in block.rows] for block in blocks] == [[1, 2], [2]]


@given(st.sets(st.integers(1, 60), min_size=1))
def test_numbers_in_runs_are_all_of_them_and_no_others(numbers):
    found = set()
    for part in runs(numbers).split(", "):
        first, _dash, last = part.partition("\u2013")
        found |= set(range(int(first), int(last or first) + 1))
    assert found == numbers


def test_a_report_says_how_values_lie_between_their_limits_and_no_digest_holds_it(lead):
    lot = at_the_bench(lead, quantity=30)
    for piece in range(1, 31):
        inspection.measure(balloon(lot, 1), lot, piece, f"10.0{piece % 3 + 1}", by=lead)
    (told,) = spread.beside(report(lot))["spread"]
    assert (told["number"], told["n"], told["mean"], told["pp"]) == (1, 30, "10.0200 mm", "1.00")
    assert "spread" not in reports.inspection_report(report(lot))
