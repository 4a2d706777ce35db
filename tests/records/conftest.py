import os
import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path

import pytest
from django.db import connection, connections

from shopflow.people.models import User

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def lead(db):
    return User.objects.create(username="lead")


@pytest.fixture
def machinist(db):
    return User.objects.create(username="machinist")


@pytest.fixture(autouse=True)
def own_folders(settings, tmp_path):
    settings.FILES_DIR = tmp_path / "files"
    settings.CACHE_DIR = tmp_path / "cache"


def child(*words: object, **environment: str) -> subprocess.Popen:
    """Start tests/records/process.py as a process of its own on the test database."""
    return subprocess.Popen(
        [sys.executable, "-m", "tests.records.process", *map(str, words)],
        cwd=ROOT,
        env=environment_of_a_child(**environment),
        stdout=subprocess.PIPE,
        text=True,
    )


def environment_of_a_child(**more: str) -> dict[str, str]:
    """The test database and light settings, for another process; PYTEST_XDIST_WORKER would name another database."""
    here = {name: value for name, value in os.environ.items() if name != "PYTEST_XDIST_WORKER"}
    light = {"DJANGO_SETTINGS_MODULE": "tests.records.light", "DATABASE_URL": _database_url()}
    return here | light | more


def _database_url() -> str:
    database = connection.settings_dict
    if connection.vendor == "sqlite":
        return f"sqlite:///{database['NAME']}"
    return f"postgres://{database['USER']}@/{database['HOST']}/{database['NAME']}"


def in_threads(count: int, action: Callable[[int], object]) -> None:
    """Run action(0), action(1) … at once, each on a connection of its own; the first error is raised."""
    errors: list[BaseException] = []
    together = threading.Barrier(count)

    def one(number: int) -> None:
        try:
            together.wait()
            action(number)
        except BaseException as error:
            errors.append(error)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=one, args=[number]) for number in range(count)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    if errors:
        raise errors[0]
