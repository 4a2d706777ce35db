"""Load the demo shop into an empty one, through the same actions as people use."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand
from django.db import transaction

from shopflow.commands.demo import jobs, people, seed, shop
from shopflow.commands.demo.at_once import work_done_at_once
from shopflow.core.errors import CoreError
from shopflow.people import queries
from shopflow.people.models import User
from shopflow.records import ledger
from shopflow.records.models import LedgerRow


class Command(BaseCommand):
    help = "Load the demo shop of seed_data. Does nothing in a shop that has people, so a second call is harmless."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--show-log-ins", action="store_true", help="only print how to log in to the demo")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["show_log_ins"]:
            self.stdout.write(people.log_ins())
            return
        if happened("demo_loaded") or not (queries.nobody_yet() or happened("demo_begun")):
            return
        with work_done_at_once():
            self.load()

    def load(self) -> None:
        """Shop and people at once; then each job on its own. An interrupted start goes on with the jobs not begun."""
        everybody = people.already_there() if happened("demo_begun") else begin()
        for number, spec in enumerate(seed.values("jobs.toml")["job"], start=1):
            if begin_job(number, by=everybody["odile"]):
                self.load_job(spec, everybody)
        with transaction.atomic():
            ledger.append("demo_loaded", chain=ledger.SHOP, subject=("shop", 0), by=everybody["odile"])
        self.stdout.write(people.log_ins())

    def load_job(self, spec: jobs.Spec, everybody: jobs.People) -> None:
        """A job that a gate stops stays where it stands, and the reason is told: the rest of the demo is still good."""
        try:
            jobs.load(spec, everybody)
        except CoreError as refusal:
            self.stderr.write(f"The demo's job for order {spec['order']} stopped on its way: {refusal}")


def happened(kind: str) -> bool:
    return LedgerRow.objects.filter(chain=ledger.SHOP, kind=kind).exists()


@transaction.atomic
def begin() -> dict[str, User]:
    everybody = people.load()
    shop.load(by=everybody["odile"])
    ledger.append("demo_begun", chain=ledger.SHOP, subject=("shop", 0), by=everybody["odile"])
    return everybody


@transaction.atomic
def begin_job(number: int, *, by: User) -> bool:
    """Whether this start is the first to take the job on."""
    row = ledger.append(
        "demo_job_begun", chain=ledger.SHOP, subject=("shop", 0), by=by, key=f"demo-job-{number}", number=number
    )
    return not row.repeated
