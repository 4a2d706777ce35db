"""Write a program of a job with its SETUP.toml, model and tools into a folder, for `review_program`."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from shopflow.core.errors import CoreError
from shopflow.jobs.models import Job
from shopflow.programs import queries
from shopflow.programs.setup_export import SETUP, setup_files


class Command(BaseCommand):
    help = "Write a program of a job, its SETUP.toml and what that names into a folder; review_program reads them."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("job", help="number of the job")
        parser.add_argument("folder", type=Path, help="folder to write into; made where there is none")
        parser.add_argument("--program", default="", help="name of the program, where the job has several")

    def handle(self, *args: Any, **options: Any) -> None:
        job = Job.objects.filter(number=options["job"]).first()
        if job is None:
            raise CommandError(f"There is no job {options['job']}.")
        wanted = options["program"]
        programs = [one for one in queries.programs_of(job) if not wanted or one.name == wanted]
        if len(programs) != 1:
            names = ", ".join(one.name for one in queries.programs_of(job)) or "none"
            raise CommandError(f"Say which program with --program; the job has: {names}.")
        revision = queries.newest(programs[0])
        if revision is None:
            raise CommandError("The program has no revision.")
        try:
            texts = setup_files(revision)
        except CoreError as refusal:
            raise CommandError(str(refusal)) from refusal
        options["folder"].mkdir(parents=True, exist_ok=True)
        for name, data in texts.items():
            (options["folder"] / name).write_bytes(data)
        program = next(name for name in texts if name.endswith(".nc"))
        self.stdout.write(f"Wrote {', '.join(sorted(texts))}. Review it with:")
        self.stdout.write(f"  python manage.py review_program {program} --setup {SETUP}")
