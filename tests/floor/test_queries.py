"""The lists of the floor and of the bench take as many queries for four lots as for one."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from tests.floor.objects import a_lot, a_machine, passed_on, started

pytestmark = pytest.mark.django_db


def lots(lead, count):
    """Each with pieces at the bench's step, at the mill and at the saw, the mill running."""
    for _ in range(count):
        lot = a_lot(lead)
        passed_on(lot, 10, 6, lead)
        passed_on(lot, 20, 4, lead)
        passed_on(lot, 30, 2, lead)
        started(lot, 40, lead)


@pytest.mark.parametrize(
    "page", ["floor:stations", "floor:station", "inspection:bench", "jobs:to_buy", "jobs:saw_list"]
)
def test_a_list_takes_the_same_queries_for_one_lot_and_for_four(client, lead, page):
    client.force_login(lead)
    where = reverse(page, args=[f"m{a_machine().pk}"] if page == "floor:station" else [])
    lots(lead, 1)
    client.get(where)
    with CaptureQueriesContext(connection) as one:
        assert client.get(where).status_code == 200
    lots(lead, 3)
    with CaptureQueriesContext(connection) as four:
        client.get(where)
    assert len(four) == len(one)
