"""Two heats in one order: a lot for each, so that every piece's heat is known on papers and found by search."""

import pytest
from django.urls import reverse

from shopflow.floor import actions
from shopflow.floor.actions import NotNow
from shopflow.jobs.models import BarPick, Job, Stage
from shopflow.papers.traveler import heat_lines
from shopflow.shop.models import StockBar
from shopflow.workflow import gates, queries
from tests.floor.objects import a_routing, op
from tests.jobs.objects import a_job, a_material

pytestmark = pytest.mark.django_db


def a_job_of(lead, heats):
    job = a_job(lead, quantity=12, material=a_material(needs_heat_number=True))
    a_routing(job)
    Job.objects.filter(pk=job.pk).update(stage=Stage.FLOOR, heat_number=heats)
    return Job.objects.get(pk=job.pk)


def released(lead, heats):
    job = a_job_of(lead, heats)
    actions.put_on_floor(job, by=lead)
    return job, [(lot.number, lot.heat_number, lot.released) for lot in job.lots.order_by("number")]


def test_the_release_makes_a_lot_for_each_heat(lead):
    assert released(lead, "2211 × 8, 2212 × 8")[1] == [(1, "2211", 8), (2, "2212", 4)]


def test_one_heat_is_one_lot(lead):
    assert released(lead, "2211")[1] == [(1, "2211", 12)]


def test_a_job_without_a_heat_is_one_lot(lead):
    assert released(lead, "")[1] == [(1, "", 12)]


def heats_condition(job):
    return next(c for c in gates.release_gate(job) if "heat is known" in c.text)


def test_heats_without_a_count_hold_the_release(lead):
    held = heats_condition(a_job_of(lead, "2211, 2212"))
    assert not held.met and "2211 × 8, 2212 × 4" in held.reason and held.mend


def test_heats_with_their_counts_do_not(lead):
    assert heats_condition(a_job_of(lead, "2211 × 6, 2212 × 6")).met


def picked(job, *heats):
    for number, heat in enumerate(heats):
        bar = StockBar.objects.create(
            number=f"B-{number}", material=job.material, shape="flat bar", thickness="20 mm", width="50 mm",
            length="600 mm", heat_number=heat,
        )  # fmt: skip
        BarPick.objects.create(job=job, bar=bar, bars=1, pieces=6, along=0, thick=2)
    return job


def test_bars_of_two_heats_give_a_lot_each_with_their_pieces(lead):
    job = picked(a_job_of(lead, "2211, 2212"), "2211", "2212")
    actions.put_on_floor(job, by=lead)
    assert [(lot.heat_number, lot.released) for lot in job.lots.order_by("number")] == [("2211", 6), ("2212", 6)]


def test_bars_without_a_heat_number_beside_others_hold_the_release(lead):
    held = heats_condition(picked(a_job_of(lead, "2211"), "2211", ""))
    assert not held.met and "6 pieces are of bars on the rack without a heat number" in held.reason


def test_pieces_of_one_heat_are_split_off_a_lot_of_two(lead):
    job, _lots = released(lead, "2211, 2212")
    lot = job.lots.get()
    part = actions.split(lot, op(lot, 10), 4, by=lead, heat="2212")
    lot.refresh_from_db()
    assert (lot.heat_number, part.heat_number) == ("2211", "2212")


def test_a_heat_that_the_lot_is_not_of_is_refused(lead):
    job, _lots = released(lead, "2211, 2212")
    lot = job.lots.get()
    with pytest.raises(NotNow, match="not of heat 99"):
        actions.split(lot, op(lot, 10), 4, by=lead, heat="99")


def test_a_lot_of_two_heats_does_not_ship(lead):
    job, _lots = released(lead, "2211, 2212")
    assert any("several heats" in problem for problem in gates.ship_problems(job, job.lots.get()))


@pytest.mark.parametrize("words", ["2211", "2212"])
def test_search_finds_the_job_and_the_lot_of_either_heat(lead, words):
    job, _lots = released(lead, "2211 × 8, 2212 × 4")
    found = queries.search(words)
    assert found.jobs == [job] and [lot.heat_number for lot in found.lots] == [words]


def test_search_by_a_part_of_a_heat_finds_no_lot(lead):
    released(lead, "2211 × 8, 2212 × 4")
    assert queries.search("221").lots == []


def test_the_traveler_says_which_lot_is_of_which_heat(lead):
    job = a_job_of(lead, "2211 × 8, 2212 × 4")
    planned = heat_lines(job)
    actions.put_on_floor(job, by=lead)
    assert heat_lines(job) == planned == ["lot 1: 2211\u00a0×\u00a08", "lot 2: 2212\u00a0×\u00a04"]


def test_the_station_asks_for_the_heat_where_a_lot_is_of_two(client, lead):
    job, _lots = released(lead, "2211, 2212")
    lot = job.lots.get()
    client.force_login(lead)
    url = reverse("floor:report", args=[lot.pk, op(lot, 10).pk, "split"])
    client.post(url, {"quantity": 4, "heat": "2212", "key": "split-by-heat"})
    assert sorted(job.lots.values_list("heat_number", flat=True)) == ["2211", "2212"]
