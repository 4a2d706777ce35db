"""Settings of the tests: the shop's own, over a data folder that is made for one run and ends with it."""

import atexit
import os
import shutil
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
_made = tempfile.mkdtemp(prefix="shopflow-tests-")
_maker = os.getpid()


@atexit.register
def _remove() -> None:
    if os.getpid() == _maker:  # not in a fork of the run
        shutil.rmtree(_made, ignore_errors=True)


os.environ["SHOPFLOW_DATA"] = _made
_server = os.environ.get(f"DATABASE_URL_{os.environ.get('PYTEST_XDIST_WORKER')}")
if _server:
    os.environ["DATABASE_URL"] = _server  # see tests/services.py
os.environ.setdefault("SECRET_KEY", "known to everyone and good enough for tests only, as long as it must be")
os.environ.setdefault("NUMBA_CACHE_DIR", str(ROOT / ".data" / "cache" / "numba"))  # compiled once for all runs

from shopflow.settings import *  # noqa: E402, F403
from shopflow.settings import DATABASES, STATIC_ROOT, STORAGES  # noqa: E402

if DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3":
    # A file as in a real shop, not SQLite's shared memory, which locks by other rules.
    DATABASES["default"]["TEST"] = {"NAME": f"{_made}/test.sqlite3"}
    # The shop's commits outlive a loss of power; those of tests need not wait for the disk.
    _options = DATABASES["default"]["OPTIONS"]
    _options["init_command"] = _options["init_command"].replace("synchronous=FULL", "synchronous=OFF")

CELERY_BROKER_URL = "memory://"  # nobody listens; tests that need a worker start the whole shop
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]  # fast, and never used outside tests
STORAGES["staticfiles"] = {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
STATIC_ROOT.mkdir(parents=True, exist_ok=True)
