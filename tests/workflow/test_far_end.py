"""The far end of a job through its pages, as the roles would send them: split, held, miscounted, scrapped, reworked,
shipped in parts, returned and closed to the piece."""

import pytest
from django.urls import reverse

from shopflow.floor.models import Place
from shopflow.inspection.models import Nonconformance
from shopflow.jobs.models import Stage
from shopflow.workflow import queries
from tests.floor.objects import a_lot, op
from tests.inspection.objects import balloon, with_balloons
from tests.papers.objects import printed

pytestmark = pytest.mark.django_db


class Shop:
    """Sends what people's forms send; a refusal is said on the page that answers."""

    def __init__(self, client, people):
        self.client, self.people = client, people

    def send(self, who, name, *args, **typed):
        self.client.force_login(self.people[who])
        answer = self.client.post(reverse(name, args=args), typed, follow=True)
        assert answer.status_code == 200, answer.status_code
        return " ".join(answer.content.decode().split())

    def report(self, lot, number, what, **typed):
        return self.send("machinist", "floor:report", lot.pk, op(lot, number).pk, what, **typed)

    def run(self, lot, number, quantity):
        """Start, sign what is to be signed, count good, finish."""
        checks = ["tools", "clamping", "cautions"] if op(lot, number).setup_id else []
        self.send("machinist", "floor:start", lot.pk, op(lot, number).pk, checks=checks)
        if op(lot, number).kind == "deburr":
            self.report(lot, number, "edges", exceptions="")
        self.report(lot, number, "good", quantity=quantity)
        return self.report(lot, number, "finish")


@pytest.fixture
def shop(client, everybody):
    return Shop(client, everybody)


def counts(job):
    return {name: count for name, count in queries.balance(job).items() if count}


def test_a_job_is_carried_to_its_last_piece_through_the_pages(shop, everybody):
    lot = with_balloons(a_lot(everybody["lead"], quantity=12))
    job = lot.job

    # The saw: one piece is not there, two were never counted, one is bad stock.
    shop.report(lot, 10, "lose", quantity=1, reason="eleven blanks in the bin")
    shop.report(lot, 10, "add", quantity=2, reason="two spares cut")
    shop.report(lot, 10, "scrap", quantity=1, reason="crack in the bar")
    shop.run(lot, 10, 12)
    assert counts(job) == {"ordered": 12, "made": 14, "short": 12, "step": 12, "lost": 1, "scrapped": 1}

    # At the mill four go ahead as a lot of their own; one piece is held, looked at, and goes on.
    shop.report(lot, 20, "split", quantity=4)
    ahead = job.lots.get(number=2)
    shop.report(lot, 20, "hold", quantity=1, reason="chatter marks")
    assert "held" in shop.report(lot, 20, "note", text="ask Odile")
    shop.report(lot, 20, "back", quantity=1, place=Place.HELD)
    for one, quantity in ((ahead, 4), (lot, 8)):
        for number in (20, 30):
            shop.run(one, number, quantity)

    # The bench: a bore too small is reworked and measured again; the lot that is ahead passes and ships.
    bench = op(lot, 40)
    for one, bore in ((ahead, "10.02"), (lot, "9.99")):
        for number, value in ((1, bore), (2, "1.500")):
            shop.send("inspector", "inspection:measure", one.pk, bench.pk,
                      characteristic=balloon(lot, number).pk, piece=1, value=value)  # fmt: skip
    found = Nonconformance.objects.get(lot=lot)
    shop.send("inspector", "inspection:dispose", found.pk, verdict="rework", reason="bore it again")
    shop.report(lot, 40, "rework", quantity=1, back_to=op(lot, 20).pk, reason="bore small")
    for number in (20, 30):
        shop.run(lot, number, 1)
    assert "measured again" in shop.send("inspector", "inspection:pass", lot.pk, bench.pk, quantity=8)
    shop.send("inspector", "inspection:measure", lot.pk, bench.pk,
              characteristic=balloon(lot, 1).pk, piece=1, value="10.01")  # fmt: skip
    for one, quantity in ((ahead, 4), (lot, 8)):
        shop.send("inspector", "inspection:pass", one.pk, bench.pk, quantity=quantity)

    # Shipped in parts; one comes back with a dent, is scrapped, and the job closes short by one.
    shop.send("lead", "workflow:ship", job.pk, lot=ahead.pk, quantity=4, note="first box")
    shop.send("inspector", "workflow:ship", job.pk, lot=lot.pk, quantity=8, note="second box")
    second = job.shipments.get(number=2)
    shop.send("lead", "workflow:take_back", job.pk, shipment=second.pk, quantity=1, reason="dented on the way")
    shop.report(lot, 50, "back", quantity=1, place=Place.HELD)
    shop.report(lot, 50, "scrap", quantity=1, reason="dented on the way")
    for paper in job.papers.all():
        printed(paper)
    assert "Say why it stays so" in shop.send("lead", "workflow:advance", job.pk)
    shop.send("lead", "workflow:advance", job.pk, why_short="the customer takes eleven")
    job.refresh_from_db()
    assert job.stage == Stage.CLOSED
    assert counts(job) == {"ordered": 12, "made": 14, "short": 1, "shipped": 11, "lost": 1, "scrapped": 2}
