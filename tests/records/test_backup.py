"""A backup taken while people work, restored elsewhere; and backups that are not what they should be."""

import hashlib
import json
import os
import sqlite3
import subprocess
import sys
import threading
from contextlib import closing, contextmanager
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from django.db import connection, connections

from shopflow.people.models import Role
from shopflow.records import backup, database_copies, files, restore
from shopflow.records.backup_folder import BackupFolder, Damaged
from shopflow.records.models import LedgerRow, StoredFile
from tests.jobs.objects import PDF, a_job, an_upload
from tests.people_fixtures import make_person

from .conftest import ROOT

pytestmark = [pytest.mark.both_databases, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def folder(tmp_path):
    return BackupFolder(tmp_path / "backup")


@pytest.fixture
def boss():
    return make_person("boss", Role.LEAD)


def work_on(boss, number):
    """A job with a drawing of its own: rows in many tables, a chain of the ledger, a file."""
    from shopflow.jobs import actions
    from shopflow.jobs.models import JobFile

    job = a_job(boss, part_number=f"BP-{number}")
    content = PDF + str(number).encode()
    return actions.add_file(job, an_upload(content, "print.pdf"), by=boss, kind=JobFile.Kind.DRAWING).stored


@contextmanager
def somebody_works(boss, at_least):
    """Jobs come in without a pause; the block begins when there are some and ends when there are as many more."""
    done, stop = threading.Semaphore(0), threading.Event()

    def work():
        number = 0
        while not stop.is_set():
            work_on(boss, number)
            number += 1
            done.release()
        connections.close_all()

    worker = threading.Thread(target=work)
    worker.start()
    try:
        for _ in range(at_least):
            assert done.acquire(timeout=60)
        yield
        while done.acquire(blocking=False):  # what was done meanwhile
            pass
        for _ in range(at_least):
            assert done.acquire(timeout=60)
    finally:
        stop.set()
        worker.join()


class Elsewhere:
    """Another data folder, and on PostgreSQL another database, with manage.py as a process of its own."""

    def __init__(self, data: Path):
        self.data = data
        self.database = str(data / "shop.sqlite3")
        self.url = f"sqlite:///{self.database}"
        if connection.vendor == "postgresql":
            self.database = f"elsewhere_{os.getpid()}"
            self.url = (
                f"postgres://{connection.settings_dict['USER']}@/{connection.settings_dict['HOST']}/{self.database}"
            )
            self._on_server(f"CREATE DATABASE {self.database} TEMPLATE template0")

    def close(self):
        if connection.vendor == "postgresql":
            self._on_server(f"DROP DATABASE {self.database}")

    def _on_server(self, sql):
        with connection.cursor() as cursor:
            cursor.execute(sql)

    def manage(self, *words):
        leave = {"PYTEST_XDIST_WORKER", "SHOPFLOW_FILES", "FILES_URL"}
        here = {name: value for name, value in os.environ.items() if name not in leave}
        given = {
            "DJANGO_SETTINGS_MODULE": "shopflow.settings",
            "SHOPFLOW_DATA": str(self.data),
            "DATABASE_URL": self.url,
        }
        command = [sys.executable, "manage.py", *map(str, words)]
        return subprocess.run(command, cwd=ROOT, env=here | given, capture_output=True, text=True, check=False)

    def rows(self, table, order="1"):
        other = connection.copy()
        other.settings_dict["NAME"] = self.database
        with closing(other), other.cursor() as cursor:
            return rows_of(cursor, table, order)

    def bytes_of(self, sha256):
        return (self.data / "files" / sha256[:2] / sha256).read_bytes()


def rows_of(cursor, table, order="1"):
    cursor.execute(f'SELECT * FROM "{table}" ORDER BY {order}')
    return cursor.fetchall()


def rows_here(table, order="1"):
    with connection.cursor() as cursor:
        return rows_of(cursor, table, order)


@pytest.fixture
def elsewhere(tmp_path):
    place = Elsewhere(tmp_path / "elsewhere")
    yield place
    place.close()


def test_a_shop_restored_elsewhere_has_every_row_and_every_byte(folder, boss, elsewhere):
    stored = [work_on(boss, number) for number in range(3)]
    call_command("backup", str(folder.root))
    done = elsewhere.manage("restore", folder.root)
    assert done.returncode == 0, done.stderr
    assert done.stdout.splitlines()[-1] == "all agree"
    for table in connection.introspection.table_names():
        assert elsewhere.rows(table) == rows_here(table), table
    assert all(hashlib.sha256(elsewhere.bytes_of(one.sha256)).hexdigest() == one.sha256 for one in stored)


def test_a_backup_made_while_people_work_is_one_state_of_the_shop(folder, boss, elsewhere):
    with somebody_works(boss, at_least=3):
        before = LedgerRow.objects.count()
        call_command("backup", str(folder.root))
    done = elsewhere.manage("restore", folder.root)
    assert done.returncode == 0, done.stdout + done.stderr
    ledger_here, ledger_there = (rows("records_ledgerrow", "id") for rows in (rows_here, elsewhere.rows))
    assert before <= len(ledger_there) < len(ledger_here)
    assert set(ledger_there) <= set(ledger_here)
    assert set(elsewhere.rows("jobs_jobfile")) <= set(rows_here("jobs_jobfile"))
    named = [row[1] for row in elsewhere.rows("records_storedfile")]
    assert all(hashlib.sha256(elsewhere.bytes_of(sha256)).hexdigest() == sha256 for sha256 in named)


def test_the_restored_shop_refuses_to_rewrite_its_ledger(folder, boss, elsewhere):
    work_on(boss, 1)
    call_command("backup", str(folder.root))
    elsewhere.manage("restore", folder.root)
    done = elsewhere.manage("verify_records", "--json")
    assert json.loads(done.stdout)["flaws"] == []  # a missing trigger would be one


def test_a_place_that_holds_a_shop_is_left_alone(folder, boss, elsewhere):
    work_on(boss, 1)
    call_command("backup", str(folder.root))
    assert elsewhere.manage("restore", folder.root).returncode == 0
    again = elsewhere.manage("restore", folder.root)
    assert (again.returncode, "already holds a shop" in again.stderr) == (2, True)


@pytest.fixture
def backed_up(folder, boss):
    """A backup of a shop with one file."""
    stored = work_on(boss, 1)
    call_command("backup", str(folder.root))
    return stored


def refused(folder, error, match):
    """By what restore does first, before it touches anything (as the next test shows)."""
    with pytest.raises(error, match=match):
        restore.prove(folder, folder.state())


def test_a_refused_backup_leaves_the_place_empty(folder, backed_up, elsewhere):
    folder.files().remove(backed_up.sha256)
    done = elsewhere.manage("restore", folder.root)
    assert (done.returncode, "gone from the backup" in done.stderr) == (2, True)
    assert not list(elsewhere.data.glob("files/??/*"))
    folder_whole = backup.make(folder, keep=9)  # puts the file back into the backup
    assert folder_whole.new_files == 1
    assert elsewhere.manage("restore", folder.root).returncode == 0  # which it would not be, had rows been put there


def test_with_damage_allowed_the_rest_is_restored_and_the_loss_told(folder, backed_up, boss, elsewhere):
    work_on(boss, 2)
    backup.make(folder, keep=9)
    folder.files().remove(backed_up.sha256)
    done = elsewhere.manage("restore", folder.root, "--despite-damage")
    assert done.returncode == 1
    lines = done.stdout.splitlines()
    assert f"left out: file {backed_up.sha256[:16]} is gone from the backup" in lines
    assert "1 files put back, then the database" in lines


def rewrite(path, change):
    path.chmod(0o644)
    path.write_bytes(change(path.read_bytes()))


def flip(content):
    return content[:-1] + bytes([content[-1] ^ 1])


def test_a_database_cut_short_is_refused(folder, backed_up):
    rewrite(folder.state().database, lambda content: content[: len(content) // 2])
    refused(folder, Damaged, "database.* was cut or changed")


def test_a_changed_byte_of_the_database_is_refused(folder, backed_up):
    rewrite(folder.state().database, flip)
    refused(folder, Damaged, "database.* was cut or changed")


def test_changed_heads_are_refused(folder, backed_up):
    rewrite(folder.state().folder / "heads.txt", lambda content: content.replace(b"job", b"shop"))
    refused(folder, Damaged, "heads.txt .* was cut or changed")


def test_a_changed_byte_of_a_file_is_refused(folder, backed_up):
    rewrite(folder.files().path(backed_up.sha256), flip)
    refused(folder, Damaged, f"file {backed_up.sha256[:16]} in the backup has other bytes")


def test_a_missing_file_is_refused(folder, backed_up):
    folder.files().remove(backed_up.sha256)
    refused(folder, Damaged, f"file {backed_up.sha256[:16]} is gone from the backup")


def test_a_half_backup_is_no_backup(folder, backed_up):
    (folder.state().folder / "manifest.json").unlink()
    with pytest.raises(CommandError, match="holds no whole backup"):
        call_command("restore", str(folder.root))


def test_a_manifest_cut_short_is_refused(folder, backed_up):
    rewrite(folder.state().folder / "manifest.json", lambda content: content[:40])
    with pytest.raises(CommandError, match=r"manifest\.json cannot be read"):
        call_command("restore", str(folder.root))


def test_a_backup_of_the_other_kind_of_database_is_refused(folder, backed_up, monkeypatch):
    other = {"sqlite": database_copies.PostgreSQL, "postgresql": database_copies.SQLite}[connection.vendor]
    monkeypatch.setattr(restore, "database", other)
    with pytest.raises(restore.NotPossible, match="Name an empty database of that kind"):
        restore.restore(folder, folder.state())


def test_a_backup_of_a_newer_version_is_refused(folder, backed_up):
    path = folder.state().folder / "manifest.json"
    rewrite(path, lambda content: content.replace(b"records.0001_initial", b"records.9999_of_tomorrow"))
    refused(folder, restore.NotPossible, r"unknown to this one: records\.9999_of_tomorrow")


# What a second backup into the same folder does.


def test_a_second_backup_copies_only_new_files(folder, boss):
    work_on(boss, 1)
    assert backup.make(folder, keep=9).new_files == 1
    work_on(boss, 2)
    assert backup.make(folder, keep=9).new_files == 1
    assert len(folder.state().files()) == 2


def test_copies_are_no_links_to_the_shops_own_bytes(folder, boss):
    stored = work_on(boss, 1)
    backup.make(folder, keep=9)
    assert folder.files().path(stored.sha256).stat().st_nlink == 1


def test_what_a_broken_backup_left_is_cleared_away_and_older_states_go(folder, boss):
    first, second = (backup.make(folder, keep=2).state for _ in range(2))
    folder.begin_state("20260301T000000.000000Z")
    third = backup.make(folder, keep=2).state
    assert sorted(path.name for path in first.folder.parent.iterdir()) == [str(second), str(third)]


def test_a_withdrawn_file_leaves_the_folder_with_the_last_state_that_names_it(folder, boss):
    stored = work_on(boss, 1)
    backup.make(folder, keep=2)
    files.withdraw(stored, by=boss, reason="sent to the wrong shop")
    backup.make(folder, keep=2)
    assert stored.sha256 in set(folder.files().all())
    backup.make(folder, keep=2)
    assert stored.sha256 not in set(folder.files().all())


@pytest.fixture
def nothing_copied_yet(monkeypatch):
    """Something to be done between the copy of the database and the first file."""
    meanwhile = []
    plain = backup._copy_files

    def copy_files(wanted, target):
        for act in meanwhile:
            act()
        return plain(wanted, target)

    monkeypatch.setattr(backup, "_copy_files", copy_files)
    return meanwhile


def test_a_file_withdrawn_meanwhile_is_told_and_is_no_damage(folder, boss, elsewhere, nothing_copied_yet):
    stored = work_on(boss, 1)
    nothing_copied_yet.append(lambda: files.withdraw(stored, by=boss, reason="sent to the wrong shop"))
    made = backup.make(folder, keep=9)
    assert (list(made.state.manifest.absent), made.damaged) == ([stored.sha256], [])
    done = elsewhere.manage("restore", folder.root)
    assert f"file {stored.sha256[:16]} is not in the backup: withdrawn while the backup was made" in done.stdout
    assert done.returncode == 0


def test_a_file_damaged_in_the_shop_is_told_and_the_rest_is_backed_up(folder, boss, capsys):
    damaged, sound = work_on(boss, 1), work_on(boss, 2)
    rewrite(files.place().path(damaged.sha256), flip)
    with pytest.raises(SystemExit) as ended:
        call_command("backup", str(folder.root))
    assert ended.value.code == 1
    assert f"file {damaged.sha256[:16]} is not in it: gone or damaged in the shop" in capsys.readouterr().out
    assert folder.state().files() == [sound.sha256]


def test_check_reads_the_newest_backup_and_names_a_changed_file(folder, boss, capsys):
    stored = work_on(boss, 1)
    call_command("backup", str(folder.root))
    call_command("backup", str(folder.root), "--check")
    rewrite(folder.files().path(stored.sha256), flip)
    with pytest.raises(SystemExit):
        call_command("backup", str(folder.root), "--check")
    assert f"file {stored.sha256[:16]} in the backup has other bytes" in capsys.readouterr().out


def test_the_list_of_files_is_one_that_sha256sum_reads(folder, boss):
    """The check of another program: coreutils' own format."""
    work_on(boss, 1)
    state = backup.make(folder, keep=9).state
    words = ["sha256sum", "--check", "--strict", "--quiet", "files.txt"]
    subprocess.run(words, cwd=state.folder, check=True, capture_output=True)


def test_the_copied_heads_stand_in_the_shop_that_went_on(folder, boss, capsys):
    work_on(boss, 1)
    state = backup.make(folder, keep=9).state
    work_on(boss, 2)
    call_command("verify_records", "--against", str(state.folder / "heads.txt"))
    assert capsys.readouterr().out.splitlines()[-1] == "all agree"


def test_a_damaged_database_is_no_backup(tmp_path):
    if connection.vendor != "sqlite":
        pytest.skip("PostgreSQL reads every row of every table into the dump, and refuses by itself")
    path = tmp_path / "shop.sqlite3"
    with closing(sqlite3.connect(path)) as made:
        made.execute("CREATE TABLE much (text)")
        made.executemany("INSERT INTO much VALUES (?)", [("of it" * 200,)] * 200)
        made.commit()
    content = bytearray(path.read_bytes())
    content[20480:24576] = b"\xff" * 4096
    path.write_bytes(content)
    with pytest.raises(restore.NotPossible, match="The database (is damaged|cannot be copied)"):
        database_copies.SQLite(path).copy(tmp_path / "copy.sqlite3")


def test_a_place_without_a_shop_is_said_in_a_sentence(tmp_path, elsewhere):
    elsewhere.data.mkdir()
    done = elsewhere.manage("backup", tmp_path / "backup")
    assert (done.returncode, "There is no shop in the database" in done.stderr) == (2, True)


def test_two_backups_at_once_into_one_folder_are_refused(folder, boss):
    with folder.held(), pytest.raises(restore.NotPossible, match="Another backup is being made"):
        backup.make(folder, keep=9)


@pytest.mark.postgres
def test_a_missing_client_tool_is_said_in_a_sentence(folder, monkeypatch):
    if connection.vendor != "postgresql":
        pytest.skip("only PostgreSQL needs a client tool")
    monkeypatch.setenv("PATH", "")
    monkeypatch.setattr(database_copies, "BESIDE", "/none/{version}/bin")
    with pytest.raises(restore.NotPossible, match="Install the client tools of PostgreSQL"):
        backup.make(folder, keep=9)


def test_counts_in_the_manifest_are_those_of_the_copy(folder, boss):
    work_on(boss, 1)
    counts = backup.make(folder, keep=9).state.manifest.counts
    assert counts == {
        "ledger_rows": LedgerRow.objects.count(),
        "chains": 1,
        "files": StoredFile.objects.count(),
        "withdrawn": 0,
    }
