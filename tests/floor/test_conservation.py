"""Pieces are conserved for each lot (design 4.4), whatever is reported in whatever order, refusals included."""

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule, run_state_machine_as_test

from shopflow.core.errors import CoreError
from shopflow.floor import actions, queries
from shopflow.floor.models import Lot, Place, Standing
from shopflow.floor.moving import is_conserved, total
from shopflow.people.models import Role
from shopflow.records import ledger
from tests.floor.objects import a_lot, op, passed_on, started
from tests.people_fixtures import make_person

OPS = st.sampled_from([10, 20, 30, 40, 50])
QUANTITIES = st.integers(1, 9)


class Floor(RuleBasedStateMachine):
    """Reports of every kind, thrown at one job's lots; each is taken or refused, and nothing in between."""

    def __init__(self):
        super().__init__()
        self.person = make_person(f"all_hats_{Lot.objects.count()}_{ledger.counter()}", *Role.values)
        self.job = a_lot(self.person, quantity=8).job
        self.added = 0

    def lot(self, pick):
        lots = list(self.job.lots.order_by("number"))
        return lots[pick % len(lots)]

    def attempt(self, act):
        try:
            act()
        except CoreError:
            return False
        return True

    @rule(pick=st.integers(0, 3), at=OPS, quantity=QUANTITIES)
    def count_good(self, pick, at, quantity):
        self.attempt(lambda: passed_on(self.lot(pick), at, quantity, self.person))

    @rule(
        pick=st.integers(0, 3),
        at=OPS,
        quantity=QUANTITIES,
        kind=st.sampled_from(["scrap", "hold", "lose", "send_outside"]),
    )
    def set_aside(self, pick, at, quantity, kind):
        lot = self.lot(pick)
        self.attempt(lambda: getattr(actions, kind)(lot, op(lot, at), quantity, reason="tool broke", by=self.person))

    @rule(pick=st.integers(0, 3), at=OPS, quantity=QUANTITIES, place=st.sampled_from(list(Place)))
    def bring_back(self, pick, at, quantity, place):
        lot = self.lot(pick)
        self.attempt(lambda: actions.bring_back(lot, op(lot, at), quantity, place, by=self.person))

    @rule(pick=st.integers(0, 3), at=OPS, quantity=QUANTITIES)
    def find_more(self, pick, at, quantity):
        lot = self.lot(pick)
        if self.attempt(lambda: actions.add(lot, op(lot, at), quantity, reason="a spare", by=self.person)):
            self.added += quantity

    @rule(pick=st.integers(0, 3), at=OPS, quantity=QUANTITIES)
    def split(self, pick, at, quantity):
        lot = self.lot(pick)
        self.attempt(lambda: actions.split(lot, op(lot, at), quantity, by=self.person))

    @rule(pick=st.integers(0, 3), at=OPS, back=OPS, quantity=QUANTITIES)
    def rework(self, pick, at, back, quantity):
        lot = self.lot(pick)
        self.attempt(lambda: actions.rework(lot, op(lot, at), op(lot, back), quantity, reason="burr", by=self.person))

    @rule(pick=st.integers(0, 3), quantity=QUANTITIES)
    def ship_and_take_back(self, pick, quantity):
        lot = self.lot(pick)
        self.attempt(lambda: actions.ship(lot, quantity, by=self.person))
        self.attempt(lambda: actions.take_back(lot, quantity, reason="wrong box", by=self.person))

    @invariant()
    def every_lot_is_conserved(self):
        assert all(is_conserved(lot) for lot in Lot.objects.filter(job=self.job))

    @invariant()
    def the_job_is_conserved(self):
        assert sum(total(lot) for lot in self.job.lots.all()) == 8 + self.added

    @invariant()
    def nothing_stands_below_zero(self):
        assert not Standing.objects.filter(quantity__lt=0).exists()


class Conservation(TestCase):
    def test_pieces_are_conserved_whatever_is_reported(self):
        run_state_machine_as_test(
            Floor,
            settings=settings(max_examples=12, stateful_step_count=20, deadline=None, derandomize=True,
                              suppress_health_check=list(HealthCheck)),
        )  # fmt: skip

    @pytest.mark.soak
    def test_pieces_are_conserved_over_a_long_run(self):
        run_state_machine_as_test(
            Floor, settings=settings(max_examples=100, stateful_step_count=60, deadline=None,
                                     suppress_health_check=list(HealthCheck)),
        )  # fmt: skip


@pytest.mark.django_db
def test_more_pieces_than_stand_there_are_refused_and_nothing_moves(lead):
    lot = a_lot(lead, quantity=3)
    run = started(lot, 10, lead)
    with pytest.raises(actions.NotThere, match="4 pieces were reported, and 3 of lot 1 stand at op 10"):
        actions.count_good(run, 4, by=lead)
    assert queries.standing_at(lot, op(lot, 10)) == 3


@pytest.mark.django_db
def test_a_report_sent_twice_counts_once(lead):
    lot = a_lot(lead)
    run = started(lot, 10, lead)
    for _ in range(2):
        actions.count_good(run, 5, by=lead, key="from-the-tablet-1")
    assert queries.standing_at(lot, op(lot, 20)) == 5


@pytest.mark.django_db
def test_a_start_sent_twice_is_one_run(lead):
    lot = a_lot(lead)
    first, again = (actions.start(lot, op(lot, 10), by=lead, key="start-from-tablet") for _ in range(2))
    assert first == again
