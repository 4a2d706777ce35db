"""Two people who take the rest of one bar at the same moment."""

from threading import Barrier, Thread

import pytest
from django.db import connection

from shopflow.core.errors import NotPossible
from shopflow.jobs import actions, queries
from shopflow.jobs.models import BarPick, Job
from tests.jobs.objects import a_long_bar, a_planned_job, a_second_job
from tests.people_fixtures import make_person


def choices(job):
    return queries.stock_choices(job, queries.proposal_of(job))


def take(job, by):
    return actions.take_stock(job, choices(job)[0].key, by=by)


@pytest.mark.both_databases
@pytest.mark.django_db(transaction=True)
def test_of_two_who_take_one_rest_at_the_same_moment_one_gets_it():
    lead = make_person("the_owner", "lead", "programmer")
    first = a_planned_job(lead)
    Job.objects.filter(pk=first.pk).update(quantity=8)
    first.refresh_from_db()
    a_long_bar(first.material, length="680 mm")  # leaves 139 mm: two pieces, once
    take(first, lead)
    rivals = [a_second_job(first, lead, part_number=f"BP-{n}") for n in (21, 22)]
    keys = [choices(job)[0].key for job in rivals]
    start, refused = Barrier(2), []

    def grab(job, key):
        try:
            start.wait()
            actions.take_stock(job, key, by=lead)
        except NotPossible:
            refused.append(job)
        finally:
            connection.close()

    threads = [Thread(target=grab, args=pair) for pair in zip(rivals, keys, strict=True)]
    [thread.start() for thread in threads]
    [thread.join() for thread in threads]
    assert (len(refused), BarPick.objects.exclude(after=None).count()) == (1, 1)
