"""A process of its own on the test database: appends to a chain, or does work until it is killed."""

import os
import sys
from datetime import timedelta

import django


def append(chain: str, count: str, by: str) -> None:
    """Each row once under a key of its own and all processes the same `shared` keys."""
    from django.db import transaction

    from shopflow.people.models import User
    from shopflow.records import ledger

    user = User.objects.get(pk=by)
    for number in range(int(count)):
        for key in (f"own-{os.getpid()}-{number}", f"shared-{number}"):
            with transaction.atomic():
                ledger.append("counted", chain=chain, subject=("job", 1), by=user, key=key, good=number)


def work(work_id: str) -> None:
    """Do the work of `adding` as a worker would, and say how it ended."""
    from shopflow.records import heartbeat, work
    from tests.records import adding

    heartbeat.BEAT_EVERY_S = 0.05
    work.PROGRESS_EVERY_S = 0.0
    work.ABANDONED_AFTER = timedelta(seconds=float(os.environ["ABANDONED_AFTER_S"]))
    print("ready", flush=True)  # noqa: T201
    done = work.run(int(work_id), adding.add_up, save=adding.note)
    print("lost" if done is None else done.state, flush=True)  # noqa: T201


if __name__ == "__main__":
    django.setup()
    {"append": append, "work": work}[sys.argv[1]](*sys.argv[2:])
