"""What may leave the shop: accepted pieces with their papers; and a job that closes to the piece."""

import pytest
from django.urls import reverse

from shopflow.floor import actions as floor
from shopflow.floor import queries as floor_queries
from shopflow.floor.actions import NotNow
from shopflow.floor.models import Place
from shopflow.inspection import actions as inspection
from shopflow.inspection import queries as inspection_queries
from shopflow.jobs.models import Stage
from shopflow.records import ledger
from shopflow.workflow import actions, gates, queries
from tests.floor.objects import op
from tests.inspection.objects import balloon
from tests.papers.objects import a_measured_lot, printed, ready_to_ship, shipped

pytestmark = pytest.mark.django_db


def missing(job):
    return [condition.text for condition in gates.unmet(gates.gate_of(job))]


def decided(lot, verdict, by, **more):
    found = inspection_queries.open_nonconformances(lot).get()
    inspection.dispose(found, verdict, reason="looked at", by=by, **more)


def test_pieces_leave_with_a_packing_slip_and_a_certificate(lead):
    assert {paper.kind for paper in shipped(lead).papers.all()} == {"packing-slip", "certificate"}


def test_a_shipment_sent_twice_with_one_key_prints_its_papers_once(lead):
    lot = ready_to_ship(lead)
    first, again = (actions.ship(lot.job, lot, 2, by=lead, key="from-the-desk-1") for _ in range(2))
    assert first == again
    assert lot.job.papers.count() == 2


def test_a_lot_ships_in_parts(lead):
    shipment = shipped(lead, quantity=1)
    actions.ship(shipment.job, shipment.lot, 2, by=lead)
    assert [one.quantity for one in shipment.job.shipments.all()] == [1, 2]


def test_a_piece_used_as_it_is_ships_only_when_the_customer_was_told(lead):
    lot = a_measured_lot(lead, bores=("10.06",))
    decided(lot, "use as is", lead)
    inspection.pass_pieces(lot, op(lot, 40), 3, by=lead)
    with pytest.raises(NotNow, match="how the customer was told"):
        actions.ship(lot.job, lot, 3, by=lead)


def test_a_piece_to_be_scrapped_keeps_the_lot_until_it_is_reported_scrapped(lead):
    lot = a_measured_lot(lead, bores=("10.06",))
    decided(lot, "scrap", lead)
    with pytest.raises(NotNow, match="1 pieces are to be scrapped and 0 are reported"):
        inspection.pass_pieces(lot, op(lot, 40), 2, by=lead)


def test_a_scrapped_piece_lets_the_others_pass(lead):
    lot = a_measured_lot(lead, bores=("10.06",))
    decided(lot, "scrap", lead)
    floor.scrap(lot, op(lot, 40), 1, reason="bore too large", by=lead)
    inspection.pass_pieces(lot, op(lot, 40), 2, by=lead)
    assert floor_queries.standing_at(lot, op(lot, 50)) == 2


def test_a_reworked_piece_is_measured_again_before_it_passes(lead):
    lot = a_measured_lot(lead, bores=("9.99",))
    decided(lot, "rework", lead)
    with pytest.raises(NotNow, match="balloon 1 of piece 1"):
        inspection.pass_pieces(lot, op(lot, 40), 3, by=lead)
    inspection.measure(balloon(lot, 1), lot, 1, "10.01", by=lead)
    inspection.pass_pieces(lot, op(lot, 40), 3, by=lead)


def test_pieces_of_a_held_job_do_not_leave(lead):
    lot = ready_to_ship(lead)
    actions.hold(lot.job, reason="price in question", by=lead)
    lot.job.refresh_from_db()
    with pytest.raises(NotNow, match="price in question"):
        actions.ship(lot.job, lot, 1, by=lead)


def test_a_job_is_not_closed_before_its_papers_are_printed(lead):
    shipment = shipped(lead, quantity=3)
    assert missing(shipment.job) == ["every shipment has its packing slip and certificate"]


def with_papers(shipment):
    for paper in shipment.papers.all():
        printed(paper)
    return shipment.job


def test_a_job_closes_when_every_piece_is_accounted_for(lead):
    job = with_papers(shipped(lead, quantity=3))
    assert actions.advance(job, by=lead).stage == Stage.CLOSED


def test_a_job_that_ships_fewer_than_ordered_closes_only_with_a_reason(lead):
    lot = ready_to_ship(lead)
    floor.scrap(lot, op(lot, 50), 1, reason="dropped", by=lead)
    job = with_papers(actions.ship(lot.job, lot, 2, by=lead))
    with pytest.raises(NotNow, match="1 pieces fewer than ordered"):
        actions.advance(job, by=lead)
    assert actions.advance(job, by=lead, why_short="the customer takes two").stage == Stage.CLOSED


def test_a_closed_job_says_where_every_piece_went(lead):
    lot = ready_to_ship(lead)
    floor.add(lot, op(lot, 50), 2, reason="spares made", by=lead)
    floor.lose(lot, op(lot, 50), 1, reason="not in the box", by=lead)
    job = actions.advance(with_papers(actions.ship(lot.job, lot, 4, by=lead)), by=lead)
    row = ledger.rows_for(job.chain).get(kind="pieces_agreed")
    assert {name: row.data[name] for name in ("ordered", "made", "shipped", "over", "lost", "scrapped")} == {
        "ordered": 3, "made": 5, "shipped": 4, "over": 1, "lost": 1, "scrapped": 0,
    }  # fmt: skip


def test_returned_pieces_are_held_and_keep_the_job_open(lead):
    shipment = shipped(lead, quantity=3)
    actions.take_back(shipment, 1, reason="wrong box", by=lead)
    assert queries.balance(shipment.job)[Place.HELD] == 1
    assert "no piece is held or outside" in missing(shipment.job)


def test_a_split_lot_ships_beside_the_other(lead):
    lot = ready_to_ship(lead)
    part = floor.split(lot, op(lot, 50), 1, by=lead)
    actions.ship(lot.job, part, 1, by=lead)
    actions.ship(lot.job, lot, 2, by=lead)
    assert queries.balance(lot.job)["shipped"] == 3


def test_the_page_says_what_keeps_pieces_here_and_where_it_is_mended(lead, client):
    client.force_login(lead)
    lot = a_measured_lot(lead, bores=("10.06",))
    decided(lot, "use as is", lead)
    inspection.pass_pieces(lot, op(lot, 40), 3, by=lead)
    page = client.get(lot.job.get_absolute_url()).content.decode()
    assert "nobody noted how the customer was told" in page
    assert reverse("inspection:lot", args=[lot.pk, op(lot, 40).pk]) in page
