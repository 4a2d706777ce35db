"""The home page of a shop with 10,000 open jobs and 1,000,000 ledger rows, against the same page with 1,000 jobs.

`make bench` runs it; BENCH_SMALL=1 makes both shops a tenth of that, to see that it runs. Both shops lie in SQLite
files of their own; requests go to one and the other in turn, so that both meet the same load of the machine. The
slowest of five each. Reach: 1.3 times, and at most 15 queries.
"""

from __future__ import annotations

import os
import shutil
import statistics
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))
os.environ["DJANGO_SETTINGS_MODULE"] = "tests.settings"  # a data folder that ends with this process
os.environ.pop("DATABASE_URL", None)

import django  # noqa: E402

django.setup()

from django.conf import settings  # noqa: E402
from django.core.management import call_command  # noqa: E402
from django.db import connection, transaction  # noqa: E402
from django.test import Client  # noqa: E402
from django.test.utils import CaptureQueriesContext  # noqa: E402

from shopflow.people.models import Role, User  # noqa: E402
from tests.people_fixtures import make_person  # noqa: E402

SMALL = os.environ.get("BENCH_SMALL") == "1"
LITTLE, MUCH = (100, 1_000) if SMALL else (1_000, 10_000)
"""Open jobs of the two shops."""
ROWS_A_JOB, RUNS, WARMING = 100, 5, 3
REACH, MOST_QUERIES = 1.3, 15

# One statement a table, numbered by a series: a million rows by the program's own actions would take an hour. One job
# in five is at the desk, the others have a lot on the floor, half of it at op 10 and half at op 20, with a run open.
SERIES = "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < {count})"
ON_FLOOR = "i % 5 <> 0"
FILL = [
    """INSERT INTO jobs_customer (id, name, address)
       {series} SELECT i, 'Customer ' || i, '' FROM n WHERE i <= 10""",
    """INSERT INTO jobs_part (id, customer_id, number, name)
       {series} SELECT i, 1 + i % 10, 'P-' || i, 'bearing block ' || i FROM n""",
    "INSERT INTO jobs_partrevision (id, part_id, revision) {series} SELECT i, i, 'A' FROM n",
    """INSERT INTO jobs_job (id, number, revision_id, order_number, order_line, quantity, due_on, material_note,
                             heat_number, material_received, notes, governing, no_model_reason, stage, held_reason,
                             unit_confirmed, revisions_settled, threads, left_out, created_at, created_by_id)
       {series} SELECT i, 'J' || i, i, 'PO-' || i, '1', 12, date('2031-01-01', '+' || (i * 7919 % 700) || ' days'), '',
                       '', 0, '', 'model', '', CASE WHEN {on_floor} THEN 'floor' ELSE 'plan' END, '',
                       1, '', '', '[]', '2030-12-01 07:00:00', {user} FROM n""",
    """INSERT INTO jobs_step (id, job_id, op_number, kind, title, instructions, first_piece, fixed)
       {series}, k(j, kind) AS (VALUES (0, 'saw'), (1, 'mill'), (2, 'deburr'), (3, 'inspect'), (4, 'ship'))
       SELECT i * 5 + j, i, 10 * (j + 1), kind, kind || ' the part', '', 0, '[]' FROM n, k""",
    """INSERT INTO floor_lot (id, job_id, number, heat_number, released, added, given)
       {series} SELECT i, i, 1, '', 12, 0, 0 FROM n WHERE {on_floor}""",
    """INSERT INTO floor_standing (lot_id, place, step_id, quantity)
       {series} SELECT i, 'step', i * 5 + j, 6 FROM n, (SELECT 0 AS j UNION SELECT 1) WHERE {on_floor}""",
    """INSERT INTO floor_oprun (lot_id, step_id, started_at, started_by_id, program_compared)
       {series} SELECT i, i * 5, '2031-01-01 07:00:00', {user}, '' FROM n WHERE {on_floor}""",
    """INSERT INTO records_ledgerrow (chain, seq, kind, at, by_id, subject_kind, subject_id, payload, previous, hash)
       {series}, k(j) AS (SELECT 1 UNION ALL SELECT j + 1 FROM k WHERE j < {rows})
       SELECT 'job:' || i, j, 'counted_good', '2031-01-01 07:00:00', {user}, 'lot', i,
              '{{"op":10,"quantity":1}}', printf('%064x', j - 1), printf('%064x', j) FROM n, k""",
    """INSERT INTO records_chainhead (chain, seq, hash, changed)
       {series} SELECT 'job:' || i, {rows}, printf('%064x', {rows}), i FROM n""",
]


def use(shop: Path) -> None:
    connection.close()
    connection.settings_dict["NAME"] = str(shop)


def fill(jobs: int) -> None:
    user = make_person("lead", Role.LEAD).pk
    words = {"series": SERIES.format(count=jobs), "on_floor": ON_FLOOR, "user": user, "rows": ROWS_A_JOB}
    with transaction.atomic(), connection.cursor() as cursor:
        for statement in FILL:
            cursor.execute(statement.format(**words))
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")


def lay_out(shops: list[Path]) -> None:
    """Empty tables in each; brought up in the first and copied, which takes a tenth of the time."""
    first, *others = shops
    use(first)
    call_command("migrate", interactive=False, verbosity=0)
    connection.close()
    for other in others:
        shutil.copyfile(first, other)


def prepare(shop: Path, jobs: int) -> Client:
    use(shop)
    begin = time.perf_counter()
    fill(jobs)
    print(f"{jobs:,} open jobs, {jobs * ROWS_A_JOB:,} ledger rows: filled in {time.perf_counter() - begin:.1f} s")
    client = Client(HTTP_HOST="localhost")
    client.force_login(User.objects.get(username="lead"))
    return client


def page(shop: Path, client: Client, path: str) -> tuple[float, int]:
    """Seconds and queries of one page."""
    use(shop)
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1")  # opening the file is not what we time: a served process keeps it open
    with CaptureQueriesContext(connection) as queries:
        begin = time.perf_counter()
        answer = client.get(path)
        taken = time.perf_counter() - begin
    assert answer.status_code == 200 and answer.content.count(b"bearing block") >= 10, answer.status_code
    return taken, len(queries)


def compare(shops: dict[Path, Client], path: str) -> None:
    times: dict[Path, list[float]] = {shop: [] for shop in shops}
    queries = 0
    for run in range(WARMING + RUNS):
        for shop, client in shops.items():
            taken, queries = page(shop, client, path)
            if run >= WARMING:
                times[shop].append(taken)
    little, much = (max(taken) for taken in times.values())
    ratio = much / little
    medians = [statistics.median(taken) * 1000 for taken in times.values()]
    print(f"{path}: {little * 1000:.0f} ms and {much * 1000:.0f} ms (slowest of {RUNS}; medians {medians[0]:.0f} and "
          f"{medians[1]:.0f} ms)")  # fmt: skip
    print(f"{ratio:.2f} times, reach {REACH} times{'' if ratio <= REACH else '  MISSED'}")
    print(f"{queries} queries, reach {MOST_QUERIES}{'' if queries <= MOST_QUERIES else '  MISSED'}")


def main() -> None:
    folder = Path(settings.DATA_DIR)
    shops = {folder / f"{jobs}.sqlite3": jobs for jobs in (LITTLE, MUCH)}
    lay_out(list(shops))
    clients = {shop: prepare(shop, jobs) for shop, jobs in shops.items()}
    compare(clients, "/")


if __name__ == "__main__":
    main()
