"""Bring a data folder to the state that this version of the program needs: tables, demo shop, static files, kernels."""

import hashlib
import io
import os
import sys
from collections.abc import Iterator
from pathlib import Path

import django
from django.conf import settings
from django.core.management import CommandError, call_command
from django.core.management.base import SystemCheckError

LOG_INS = "demo-log-ins.txt"
"""In the data folder: what load_demo printed, shown again by each start."""


def say(text: str) -> None:
    sys.stdout.write(f"{text}\n")
    sys.stdout.flush()


def is_due(stamp: Path, wanted: str) -> bool:
    return not stamp.exists() or stamp.read_text() != wanted


def state_of(paths: Iterator[Path]) -> str:
    """A hash of names, sizes and times, cheap to make: it changes when a file is added, removed or written."""
    lines = [f"{path} {path.stat().st_size} {path.stat().st_mtime_ns}" for path in paths if path.is_file()]
    return hashlib.sha256("\n".join(sorted(lines)).encode()).hexdigest()


def static_files() -> Iterator[Path]:
    from django.contrib.staticfiles.finders import get_finders

    for finder in get_finders():
        for name, storage in finder.list(["src"]):
            yield Path(storage.path(name))


def collect_static_files() -> None:
    stamp, wanted = settings.STATIC_ROOT / ".collected", state_of(static_files())
    if is_due(stamp, wanted):
        say("Collecting static files")
        # src holds what esbuild bundled from: its imports name packages, not files.
        call_command("collectstatic", interactive=False, clear=True, verbosity=0, ignore_patterns=["src"])
        stamp.write_text(wanted)


def warm() -> None:
    from shopflow.deploy.warm import warm_kernels

    cache = Path(os.environ["NUMBA_CACHE_DIR"])
    cache.mkdir(parents=True, exist_ok=True)
    stamp, wanted = cache / ".warmed", state_of(settings.BASE_DIR.glob("shopflow/core/**/*kernels.py"))
    if is_due(stamp, wanted):
        say("Compiling the computing kernels (once)")
        warm_kernels()
        stamp.write_text(wanted)


def load_demo() -> None:
    """Once it printed the log-ins the demo is whole; until then it is gone on with, or left out where people are."""
    if os.environ.get("DEMO", "1") == "0" or (settings.DATA_DIR / LOG_INS).exists():
        return
    say("Loading the demo shop, unless this shop has people of its own")
    said = io.StringIO()
    call_command("load_demo", stdout=said)
    if said.getvalue().strip():
        (settings.DATA_DIR / LOG_INS).write_text(said.getvalue())


def bring_database_up_to_date() -> None:
    """Check the settings first, then migrate, which also puts the protection of append-only tables back."""
    say("Checking the settings")
    call_command("check", databases=["default"], stdout=io.StringIO())
    say("Bringing the database up to date")
    call_command("migrate", interactive=False, verbosity=0)


def lay_out() -> None:
    bring_database_up_to_date()
    warm()  # before the demo, which removes material
    load_demo()
    collect_static_files()


def main() -> int:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shopflow.settings")
    django.setup()
    try:
        lay_out()
    except (CommandError, SystemCheckError) as refusal:
        sys.stderr.write(f"Stopped: {refusal}\n")
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
