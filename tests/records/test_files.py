import hashlib
import io
import json
import os
import stat
import subprocess
import sys
import threading
import time
from datetime import timedelta
from functools import cache
from pathlib import Path

import boto3
import pytest
from django.core.exceptions import ImproperlyConfigured
from django.db import connections, transaction
from django.utils import timezone
from hypothesis import HealthCheck, given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from moto import mock_aws

from shopflow.records import files, ledger, places
from shopflow.records.models import StoredFile

from .conftest import ROOT, environment_of_a_child

pytestmark = pytest.mark.django_db
committed = pytest.mark.django_db(transaction=True)
TWO_DAYS_AGO = time.time() - timedelta(days=2).total_seconds()
# FIPS 180-4, the example of SHA-256 for the three bytes "abc".
ABC = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


@pytest.fixture(params=["folder", "storage", "s3"])
def kept_in(request, settings, tmp_path, monkeypatch):
    """Files in the shared folder, in a storage of Django's kind, and in S3 as the library moto plays it."""
    if request.param == "storage":
        options = {"location": tmp_path / "storage", "allow_overwrite": True}
        backend = {"BACKEND": "django.core.files.storage.FileSystemStorage", "OPTIONS": options}
        settings.STORAGES = settings.STORAGES | {"files": backend}
    if request.param == "s3":
        for name in ("AWS_ACCESS_KEY_ID", "AWS_SECRET_ACCESS_KEY"):
            monkeypatch.setenv(name, "of nobody")
        monkeypatch.setenv("AWS_DEFAULT_REGION", "us-east-1")
        service = mock_aws()
        service.start()
        request.addfinalizer(service.stop)
        boto3.client("s3").create_bucket(Bucket="shop")
        settings.STORAGES = settings.STORAGES | {"files": storages_for("s3://shop/kept/here")["files"]}
    return request.param


@cache
def storages_for(files_url: str) -> dict:
    """STORAGES as the settings make them of FILES_URL."""
    say = "import json; from shopflow import settings; print(json.dumps(settings.STORAGES, default=str))"
    environment = os.environ | {"FILES_URL": files_url}
    return json.loads(subprocess.check_output([sys.executable, "-c", say], env=environment, cwd=ROOT))


def path_in_folder(sha256: str) -> Path:
    return places.place().path(sha256)


def store(content: bytes = b"abc") -> StoredFile:
    return files.store(content, media_type="model/step")


def left_overs(folder: Path) -> list[Path]:
    return list((folder / "incoming").iterdir())


def make_old(path: Path) -> None:
    os.utime(path, (TWO_DAYS_AGO, TWO_DAYS_AGO))


def test_bytes_are_kept_under_their_sha_256(kept_in):
    stored = store()
    assert (stored.sha256, stored.size) == (ABC, 3)
    with files.open_file(stored) as handle:
        assert handle.read() == b"abc"


def test_the_same_bytes_twice_are_one_row(kept_in):
    assert store() == store()
    assert StoredFile.objects.count() == 1


def test_an_empty_file_is_kept_too(kept_in):
    with files.open_file(store(b"")) as handle:
        assert handle.read() == b""


def test_a_stream_is_kept_from_its_beginning(kept_in):
    stream = io.BytesIO(b"abc")
    stream.read()
    assert files.store(stream, media_type="model/step").sha256 == ABC


def test_a_path_gives_the_bytes_to_programs_that_want_a_name(kept_in):
    with files.path_of(store()) as path:
        assert path.read_bytes() == b"abc"


@hypothesis_settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(content=st.binary(max_size=5000), piece=st.integers(1, 700))
def test_any_bytes_in_pieces_of_any_size_come_back(kept_in, monkeypatch, content, piece):
    monkeypatch.setattr(files, "PIECE", piece)
    stored = store(content)
    with files.open_file(stored) as handle:
        assert handle.read() == content
    assert stored.sha256 == hashlib.sha256(content).hexdigest()


def test_a_file_over_the_limit_is_refused_with_a_sentence_and_leaves_nothing(settings):
    settings.MAX_UPLOAD_BYTES = 2_000_000
    with pytest.raises(files.TooLarge, match="larger than 2 MB"):
        store(bytes(2_000_001))
    assert (left_overs(settings.FILES_DIR), StoredFile.objects.count()) == ([], 0)


def test_a_file_of_just_the_limit_is_taken(kept_in):
    assert files.store(b"abc", media_type="text/plain", limit=3).size == 3


def test_an_upload_that_breaks_off_leaves_nothing(settings):
    class Broken(io.RawIOBase):
        def readable(self):
            return True

        def read(self, size=-1):
            raise OSError("the network is gone")

    with pytest.raises(OSError, match="network"):
        files.store(Broken(), media_type="model/step")
    assert (left_overs(settings.FILES_DIR), StoredFile.objects.count()) == ([], 0)


def test_kept_bytes_are_read_only():
    assert stat.S_IMODE(path_in_folder(store().sha256).stat().st_mode) == 0o444


def test_bytes_are_synced_then_named_then_the_folder_synced_and_only_then_the_row(monkeypatch):
    happened = []
    sync, replace, save = os.fsync, os.replace, StoredFile.save

    def fsync(descriptor):
        happened.append("sync folder" if stat.S_ISDIR(os.fstat(descriptor).st_mode) else "sync bytes")
        sync(descriptor)

    monkeypatch.setattr(os, "fsync", fsync)
    monkeypatch.setattr(os, "replace", lambda *names: (happened.append("name"), replace(*names)))
    monkeypatch.setattr(StoredFile, "save", lambda self, **given: (happened.append("row"), save(self, **given))[1])
    store()
    assert happened == ["sync bytes", "name", "sync folder", "sync folder", "row"]


CRASH_BEFORE_ROW = """
import django, os, signal
django.setup()
from shopflow.records import files
from shopflow.records.models import StoredFile
StoredFile.save = lambda self, **given: os.kill(os.getpid(), signal.SIGKILL)
files.store(b"abc", media_type="model/step")
"""


@committed
def test_a_crash_between_name_and_row_leaves_bytes_that_the_next_upload_takes_over(settings, crashed_before_row):
    assert (path_in_folder(ABC).read_bytes(), StoredFile.objects.count()) == (b"abc", 0)
    assert store().sha256 == ABC
    assert list(files.verify()) == []


@committed
def test_a_crash_between_name_and_row_leaves_bytes_that_the_sweep_takes_after_a_day(crashed_before_row):
    assert files.sweep_orphans() == 0
    make_old(path_in_folder(ABC))
    assert files.sweep_orphans() == 1
    assert not path_in_folder(ABC).exists()


@pytest.fixture
def crashed_before_row(settings, transactional_db):
    environment = environment_of_a_child(SHOPFLOW_FILES=str(settings.FILES_DIR))
    ended = subprocess.run([sys.executable, "-c", CRASH_BEFORE_ROW], env=environment, cwd=ROOT, check=False)
    assert ended.returncode == -9


def test_the_sweep_leaves_old_files_that_have_a_row(kept_in):
    stored = store()
    if kept_in == "folder":
        make_old(path_in_folder(stored.sha256))
    assert files.sweep_orphans() == 0
    assert list(files.verify()) == []


def test_the_sweep_takes_uploads_that_never_ended_after_a_day(settings):
    store()
    young, old = settings.FILES_DIR / "incoming" / "young", settings.FILES_DIR / "incoming" / "old"
    young.write_bytes(b"a")
    old.write_bytes(b"a")
    make_old(old)
    assert files.sweep_orphans() == 1
    assert left_overs(settings.FILES_DIR) == [young]


def test_orphans_in_a_storage_service_are_swept_after_a_day(kept_in, monkeypatch):
    with transaction.atomic():
        store()
        transaction.set_rollback(True)
    assert files.sweep_orphans() == 0
    monkeypatch.setattr(files, "ORPHAN_AFTER", timedelta(days=-1))
    assert files.sweep_orphans() == 1
    assert list(places.place().all()) == []


def test_a_files_url_of_another_kind_is_refused_at_start():
    with pytest.raises(subprocess.CalledProcessError):
        storages_for("ftp://shop/kept")


def test_an_orphan_stored_again_is_young_again():
    with transaction.atomic():
        sha256 = store().sha256
        transaction.set_rollback(True)
    make_old(path_in_folder(sha256))
    with transaction.atomic():
        store()
        transaction.set_rollback(True)
    assert files.sweep_orphans() == 0


@committed
def test_bytes_stored_again_while_the_sweep_is_about_to_remove_them_are_kept():
    with transaction.atomic():
        sha256 = store().sha256
        transaction.set_rollback(True)
    make_old(path_in_folder(sha256))
    again = threading.Thread(target=lambda: (store(), connections.close_all()))

    def nobody_wants_it_yet(sha256: str) -> bool:
        again.start()
        again.join(0.5)  # it cannot end now, for the sweep holds the lock
        return False

    places.place().remove_if_older(sha256, timezone.now(), unless=nobody_wants_it_yet)
    again.join()
    assert list(files.verify()) == []


@pytest.mark.parametrize("damage", ["changed", "longer", "gone"])
def test_damage_shows_in_verification(damage):
    path = path_in_folder(store().sha256)
    path.chmod(0o644)
    {
        "changed": lambda: path.write_bytes(b"abd"),
        "longer": lambda: path.write_bytes(b"abcd"),
        "gone": path.unlink,
    }[damage]()
    (flaw,) = files.verify()
    assert (flaw.sha256, flaw.is_withdrawn) == (ABC, False)


def test_a_damaged_file_is_mended_by_storing_the_bytes_again():
    path = path_in_folder(store().sha256)
    path.unlink()
    store()
    assert list(files.verify()) == []


def test_opening_a_file_whose_bytes_are_gone_says_so(kept_in):
    stored = store()
    places.place().remove(stored.sha256)
    with pytest.raises(places.Missing, match="backup"):
        files.open_file(stored)


@committed
def test_withdrawn_bytes_are_gone_and_row_and_reason_stay(kept_in, lead):
    stored = store()
    files.withdraw(stored, by=lead, reason="sent to the wrong shop")
    assert (list(places.place().all()), StoredFile.objects.get().is_withdrawn) == ([], True)
    with pytest.raises(files.Withdrawn, match="wrong shop"):
        files.open_file(stored)


@committed
def test_verification_says_withdrawn(lead):
    files.withdraw(store(), by=lead, reason="sent to the wrong shop")
    assert [(flaw.what, flaw.is_withdrawn) for flaw in files.verify()] == [("withdrawn", True)]


def test_withdrawn_bytes_cannot_come_back_in(kept_in, lead):
    files.withdraw(store(), by=lead, reason="sent to the wrong shop")
    with pytest.raises(files.Withdrawn):
        store()


def test_a_withdrawal_is_in_the_ledger_without_its_reason(lead):
    files.withdraw(store(), by=lead, reason="Mr Miller sent it to the wrong shop")
    row = ledger.rows_for("shop").get()
    assert (row.kind, row.by_id, row.data) == ("file_withdrawn", lead.pk, {"sha256": ABC})


def test_a_withdrawal_needs_a_reason(lead):
    with pytest.raises(ValueError, match="why"):
        files.withdraw(store(), by=lead, reason="  ")


@committed
def test_a_withdrawal_that_is_rolled_back_leaves_the_bytes(lead):
    stored = store()
    with pytest.raises(ZeroDivisionError), transaction.atomic():
        files.withdraw(stored, by=lead, reason="sent to the wrong shop")
        raise ZeroDivisionError
    assert list(files.verify()) == []


def test_withdrawn_bytes_that_a_crash_left_are_swept(lead):
    stored = store()
    files.withdraw(stored, by=lead, reason="sent to the wrong shop")  # its commit, which removes, never comes
    make_old(path_in_folder(stored.sha256))
    assert files.sweep_orphans() == 1


def test_a_storage_that_renames_instead_of_replacing_is_refused(settings, tmp_path):
    settings.STORAGES = settings.STORAGES | {
        "files": {"BACKEND": "django.core.files.storage.FileSystemStorage", "OPTIONS": {"location": tmp_path}}
    }
    store()
    with pytest.raises(ImproperlyConfigured, match="replace"):
        store()
