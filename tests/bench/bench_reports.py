"""Reports from the floor, eight at once, on a private PostgreSQL, against pgbench running the same statements there.

`make bench` runs it; BENCH_SMALL=1 takes 2 s instead of 10 s, to see that it runs. Ours: eight processes, each of which
fetches a random open run and calls floor.actions.count_good with a key of its own. Theirs: the statements that
PostgreSQL got for one such report, with values drawn at random over as many jobs, by pgbench with eight clients.
Reach: a tenth as many, at least 200 a second, none lost and none double. The server syncs each commit to the disk as a
shop's does.
"""

from __future__ import annotations

import multiprocessing
import os
import random
import re
import subprocess
import sys
import tempfile
import time
import uuid
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from tests import services  # noqa: E402

services.SERVER_SETTINGS["fsync"] = "on"
os.environ["DATABASE_URL"] = services.private_postgres()
os.environ["DJANGO_SETTINGS_MODULE"] = "tests.settings"

import django  # noqa: E402

django.setup()

from django.core.management import call_command  # noqa: E402
from django.db import connection, connections  # noqa: E402
from django.db.models import Sum  # noqa: E402
from django.test.utils import CaptureQueriesContext  # noqa: E402

from shopflow.floor import actions  # noqa: E402
from shopflow.floor.models import Lot, OpRun, Place, Standing  # noqa: E402
from shopflow.jobs.models import Customer, Job, Part, PartRevision, Stage, Step  # noqa: E402
from shopflow.people.models import Role, User  # noqa: E402
from shopflow.records import proof  # noqa: E402
from shopflow.records.models import ChainHead, LedgerRow  # noqa: E402
from tests.people_fixtures import make_person  # noqa: E402

SECONDS = 2 if os.environ.get("BENCH_SMALL") == "1" else 10
AT_ONCE, JOBS, PIECES = 8, 100, 1_000_000
SHARE, LEAST, SENT_AGAIN = 0.1, 200.0, 100
KEY = "the-key-of-the-report"

# Each kind of id has a range of its own, so that in the text of a statement a number tells what it is.
JOB, LOT, RUN, STEP, STANDING, SEQ = 1_000_000, 2_000_000, 3_000_000, 4_000_000, 5_000_000, 6_000_000
OURS, SAMPLE, THEIRS = range(1, JOBS + 1), 0, range(JOBS + 1, 2 * JOBS + 1)


def fill() -> None:
    """Jobs on the floor with all pieces at op 10 and a run open there."""
    boss = make_person("lead", Role.LEAD)
    revision = PartRevision.objects.create(
        part=Part.objects.create(customer=Customer.objects.create(name="Brookside Pumps"), number="BP-1140"),
        revision="C",
    )
    numbers = range(2 * JOBS + 1)
    Job.objects.bulk_create(
        Job(pk=JOB + i, number=f"J{i}", revision=revision, quantity=PIECES, due_on="2031-05-20", created_by=boss,
            stage=Stage.FLOOR)
        for i in numbers
    )  # fmt: skip
    Step.objects.bulk_create(
        Step(pk=STEP + 2 * i + place, job_id=JOB + i, op_number=10 * (place + 1), kind=Step.Kind.SAW, title="saw")
        for i in numbers
        for place in (0, 1)
    )
    Lot.objects.bulk_create(Lot(pk=LOT + i, job_id=JOB + i, number=1, released=PIECES) for i in numbers)
    Standing.objects.bulk_create(
        Standing(pk=STANDING + 2 * i + place, lot_id=LOT + i, place=Place.STEP, step_id=STEP + 2 * i + place,
                 quantity=0 if place else PIECES)
        for i in numbers
        for place in (0, 1)
    )  # fmt: skip
    OpRun.objects.bulk_create(
        OpRun(pk=RUN + i, lot_id=LOT + i, step_id=STEP + 2 * i, started_by=boss, started_at="2031-01-01T07:00:00Z")
        for i in numbers
    )
    ChainHead.objects.bulk_create(ChainHead(chain=f"job:{JOB + i}", seq=SEQ - 1 if i == SAMPLE else 0) for i in numbers)
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")


@cache
def lead() -> User:
    """Once a process: who reports is read by the request, before the action."""
    return User.objects.get(username="lead")


def report(number: int, key: str) -> None:
    run = OpRun.objects.select_related("step", "lot__job").get(pk=RUN + number)
    actions.count_good(run, 1, by=lead(), key=key)


def statements() -> list[str]:
    """What PostgreSQL gets for one report, once everything that is read only once was read."""
    report(SAMPLE, "before")
    with CaptureQueriesContext(connection) as captured:
        report(SAMPLE, KEY)
    return [query["sql"].rstrip(";") for query in captured]


def as_script(sent: list[str]) -> str:
    r"""The statements with their values drawn anew each time: `\set` and `\gset` are pgbench's own words."""
    lines = [
        rf"\set i random({THEIRS[0]}, {THEIRS[-1]})",
        rf"\set job {JOB} + :i",
        rf"\set lot {LOT} + :i",
        rf"\set run {RUN} + :i",
        *(rf"\set step{place} {STEP} + 2 * :i + {place}" for place in (0, 1)),
        *(rf"\set standing{place} {STANDING} + 2 * :i + {place}" for place in (0, 1)),
        r"\set r random(1, 1000000000000000)",
    ]
    for sql in sent:
        line = _with_variables(sql)
        if "FOR UPDATE" in sql:
            lines += [rf"{line} \gset head_", r"\set seq :head_seq + 1"]
        else:
            lines.append(f"{line};")
    return "\n".join(lines) + "\n"


def _with_variables(sql: str) -> str:
    places = {STEP: ":step0", STEP + 1: ":step1", STANDING: ":standing0", STANDING + 1: ":standing1"}
    named = {JOB: ":job", LOT: ":lot", RUN: ":run", SEQ + 1: ":seq", **places}
    # In a text a variable would not be found behind the colon of the chain's name.
    sql = sql.replace(f"'job:{JOB}'", f"('job' || chr(58) || {JOB})")
    sql = sql.replace(f"'{KEY}'", "('p' || :client_id || '-' || :r)")
    return re.sub(r"\b\d{7}\b", lambda found: named.get(int(found[0]), found[0]), sql)


def count_theirs(script: str) -> float:
    """Reports a second by pgbench."""
    given = connection.settings_dict
    with tempfile.NamedTemporaryFile("w", suffix=".sql") as file:
        file.write(script)
        file.flush()
        words = [
            "-n",
            "-c",
            AT_ONCE,
            "-j",
            "2",
            "-T",
            SECONDS,
            "-f",
            file.name,
            "-h",
            given["HOST"],
            "-U",
            given["USER"],
        ]
        command = ["pgbench", *map(str, words), given["NAME"]]
        done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode or " 0 (0.000%)" not in done.stdout:
        raise RuntimeError(f"pgbench failed:\n{done.stdout}\n{done.stderr}")
    return float(re.search(r"tps = ([0-9.]+)", done.stdout)[1])  # type: ignore[index]


def work(together: object, results: object) -> None:
    """One of the eight: the keys it reported, with the jobs."""
    draw, done = random.Random(os.getpid()), []
    report(draw.choice(OURS), uuid.uuid4().hex)  # its connection, and what is read only once
    together.wait()  # type: ignore[attr-defined]
    end = time.perf_counter() + SECONDS
    while time.perf_counter() < end:
        number, key = draw.choice(OURS), uuid.uuid4().hex
        report(number, key)
        done.append((number, key))
    results.put(done)  # type: ignore[attr-defined]


def count_ours() -> list[tuple[int, str]]:
    """The reports that eight processes made."""
    connections.close_all()  # not to be shared with the processes
    lead.cache_clear()
    processes = multiprocessing.get_context("fork")
    together, results = processes.Barrier(AT_ONCE), processes.Queue()
    workers = [processes.Process(target=work, args=(together, results)) for _ in range(AT_ONCE)]
    for worker in workers:
        worker.start()
    done = [one for _ in workers for one in results.get()]
    for worker in workers:
        worker.join()
    return done


def verdict(is_so: bool) -> str:
    return "" if is_so else "  MISSED"


def verify(done: list[tuple[int, str]]) -> None:
    """None lost, none double: by the ledger, by the pieces, by the chains; and again after some are sent once more."""
    again = random.Random(1).sample(done, min(SENT_AGAIN, len(done)))
    for number, key in again:
        report(number, key)
    chains = [f"job:{JOB + i}" for i in OURS]
    rows = LedgerRow.objects.filter(chain__in=chains, kind="counted_good")
    keys = set(rows.values_list("key", flat=True))
    lost = [key for _, key in done if key not in keys]
    moved = Standing.objects.filter(lot__in=[LOT + i for i in OURS], step__op_number=20).aggregate(sum=Sum("quantity"))
    wanted = len(done) + AT_ONCE  # each process reported once before the time began
    counted = (rows.count(), moved["sum"])
    flaws = [flaw for chain in chains for flaw in proof.verify(chain)]
    print(f"{wanted:,} reports, {len(again)} of them sent twice: {counted[0]:,} rows, {counted[1]:,} pieces moved, "
          f"{len(lost)} lost, {len(flaws)} flaws in {len(chains)} chains"
          f"{verdict(counted == (wanted, wanted) and not lost and not flaws)}")  # fmt: skip


def seconds_of_processor() -> float:
    """What one report costs this process, in computing alone: the server's share and waiting are not in it."""
    begin = time.process_time()
    for _ in range(200):
        report(SAMPLE, uuid.uuid4().hex)
    return (time.process_time() - begin) / 200


def main() -> None:
    call_command("migrate", interactive=False, verbosity=0)
    fill()
    sent = statements()
    script = as_script(sent)
    print(f"one report: {len(sent)} statements, of them {sum(_is_control(sql) for sql in sent)} that begin and end; "
          f"{seconds_of_processor() * 1000:.1f} ms of a processor in Python")  # fmt: skip
    done = count_ours()
    theirs = count_theirs(script)
    ours = len(done) / SECONDS
    print(f"{ours:.0f} reports a second by {AT_ONCE} processes, {theirs:.0f} by pgbench")
    print(f"{ours / theirs:.2f} of pgbench, reach {SHARE}{verdict(ours >= SHARE * theirs)}")
    print(f"{ours:.0f} a second, reach {LEAST:.0f}{verdict(ours >= LEAST)}")
    verify(done)


def _is_control(sql: str) -> bool:
    return sql.split()[0] in ("BEGIN", "COMMIT", "SAVEPOINT", "RELEASE")


if __name__ == "__main__":
    main()
