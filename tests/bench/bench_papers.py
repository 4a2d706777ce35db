"""A traveler of ten pages, and an inspection report of 20,000 measurements.

`make bench` runs it; BENCH_SMALL=1 prints a tenth of the measurements, to see that it runs. The job is a block of the
demo with as many setups as make ten pages, drawn from its STEP file. The slowest of five travelers, and
one report. Reach: under 6 s, our own part (reading the job, drawing the part, filling the template) under a third of
it; the report under 60 s. The baseline of the same run is WeasyPrint itself, setting the same pages from the same HTML.
"""

from __future__ import annotations

import io
import os
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))
os.environ["DJANGO_SETTINGS_MODULE"] = "tests.settings"  # a data folder that ends with this process
os.environ.pop("DATABASE_URL", None)

import django  # noqa: E402

django.setup()

import pypdf  # noqa: E402
from django.core.management import call_command  # noqa: E402
from django.template.loader import render_to_string  # noqa: E402

from shopflow.floor import actions as floor  # noqa: E402
from shopflow.floor.models import Lot, Paper  # noqa: E402
from shopflow.inspection.models import Measurement  # noqa: E402
from shopflow.jobs.models import Characteristic, JobFile, Setup, SetupTool, Step  # noqa: E402
from shopflow.papers import actions as papers  # noqa: E402
from shopflow.papers import printing  # noqa: E402
from shopflow.papers.traveler import context_of, page_of  # noqa: E402
from shopflow.people.models import Role  # noqa: E402
from shopflow.records import files, work  # noqa: E402
from tests.floor.objects import a_lot, op  # noqa: E402
from tests.people_fixtures import make_person  # noqa: E402
from tests.programs.objects import a_machine, the_crib  # noqa: E402

SMALL = os.environ.get("BENCH_SMALL") == "1"
CHARACTERISTICS, PIECES = 40, 50 if SMALL else 500
RUNS, WARMING = 5, 1
REACH_S, OWN_SHARE, REPORT_REACH_S = 6.0, 1 / 3, 60.0
PART = ROOT / "seed_data" / "models" / "MB-31.step"
SETUPS = 4
SIDES = ("+Z", "-Z", "+X", "-X", "+Y", "-Y")


def a_job_of_ten_pages(person):
    """Routing, four setups, deburr, and an inspection sheet of thirty characteristics by twelve pieces."""
    lot = a_lot(person, quantity=12)
    job = lot.job
    stored = files.store(PART.read_bytes(), media_type="model/step")
    JobFile.objects.create(job=job, kind=JobFile.Kind.MODEL, stored=stored, name=PART.name, uploaded_by=person)
    first = job.setups.get(number=1)
    for number, up in enumerate(SIDES[:SETUPS], start=1):
        setup = first if number == 1 else Setup(job=job, number=number, machine=a_machine(), manual_reason="by hand")
        setup.up, setup.workholding, setup.zero_point = up, "vise on parallels", "top, back left corner"
        setup.save()
        for tool in the_crib():
            SetupTool.objects.create(setup=setup, tool=tool, purpose="outside")
        if number > 1:
            Step.objects.create(
                job=job, op_number=20 + number, kind=Step.Kind.MILL, title=f"side {number}", setup=setup
            )
    inspect = op(lot, 40)
    for number in range(1, 31):
        Characteristic.objects.create(
            job=job, number=number, name=f"distance {number}", nominal="10 mm", lower="9.9 mm", upper="10.1 mm",
            step=inspect, sampling="all",
        )  # fmt: skip
    return lot


def traveler(packet) -> tuple[float, float, float, bytes]:
    """Seconds in all, of them our own, and the library's alone on the same HTML."""
    begin = time.perf_counter()
    context = context_of(packet)
    read = time.perf_counter()
    render_to_string("papers/traveler.html", context)
    filled = time.perf_counter()
    pdf = printing.to_pdf("papers/traveler.html", context, page=page_of())
    end = time.perf_counter()
    fill = filled - read
    return end - begin - fill, filled - begin, end - filled - fill, pdf


def time_traveler(person, lot) -> None:
    packet = floor.make_packet(lot.job, by=person, content_hash="0" * 64)
    runs = [traveler(packet) for _ in range(WARMING + RUNS)][WARMING:]
    taken, own, library, pdf = max(runs)
    pages = len(pypdf.PdfReader(io.BytesIO(pdf)).pages)
    print(f"a traveler of {pages} pages: {taken:.2f} s, slowest of {RUNS}, reach {REACH_S:g} s{missed(taken, REACH_S)}")
    print(f"the library alone: {library:.2f} s; our own part {own:.2f} s, {own / taken:.0%} of it, reach "
          f"{OWN_SHARE:.0%}{missed(own / taken, OWN_SHARE)}")  # fmt: skip
    assert pages >= 10, pages


def time_report(person, lot) -> None:
    step = op(lot, 40)
    lot.job.characteristics.all().delete()
    Lot.objects.filter(pk=lot.pk).update(released=PIECES)
    found = Characteristic.objects.bulk_create(
        Characteristic(
            job=lot.job, number=n, name=f"distance {n} from datum B", nominal="25.4 mm", lower="25.35 mm",
            upper="25.45 mm", step=step,
        )
        for n in range(1, CHARACTERISTICS + 1)
    )  # fmt: skip
    Measurement.objects.bulk_create(
        Measurement(
            characteristic=one, lot=lot, piece=piece, measured_by=person,
            value=f"{25.34 + (one.number * 7919 + piece * 104729) % 120 / 1000:.3f} mm",
        )
        for one in found
        for piece in range(1, PIECES + 1)
    )  # fmt: skip
    lot.refresh_from_db()
    paper = papers.ask(lot.job, Paper.Kind.INSPECTION, by=person, lot=lot)
    begin = time.perf_counter()
    done = work.run(paper.work_id, papers.print_paper, save=papers.keep_paper)
    taken = time.perf_counter() - begin
    assert done is not None and not done.error, done
    measured = CHARACTERISTICS * PIECES
    size = f"{taken / measured * 1000:.2f} ms each, {done.result['bytes'] / 1e6:.1f} MB"
    reach = f"reach {REPORT_REACH_S:g} s{missed(taken, REPORT_REACH_S)}"
    print(f"an inspection report of {measured:,} measurements: {taken:.1f} s ({size}), {reach}")


def missed(value: float, reach: float) -> str:
    return "" if value <= reach else "  MISSED"


def main() -> None:
    call_command("migrate", interactive=False, verbosity=0)
    person = make_person("everybody", *Role.values)
    lot = a_job_of_ten_pages(person)
    time_traveler(person, lot)
    time_report(person, lot)


if __name__ == "__main__":
    main()
