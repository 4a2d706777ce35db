"""Bring a shop back from a backup into an empty data folder or an empty database."""

from __future__ import annotations

import os
import sys
from argparse import ArgumentParser
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from shopflow.core.errors import CoreError
from shopflow.deploy import serve
from shopflow.records import proof
from shopflow.records.backup_folder import BackupFolder, State
from shopflow.records.management.commands.verify_records import examine
from shopflow.records.restore import restore


@contextmanager
def nobody_serves() -> Iterator[None]:
    """Hold the lock of the data folder, so that the shop neither runs nor is started meanwhile."""
    try:
        with serve.lock(settings.DATA_DIR) as lock_file:
            lock_file.write_text(f"process {os.getpid()}, which restores a backup into it")
            yield
    except serve.Refused as error:
        raise CommandError(str(error), returncode=2) from error


class Command(BaseCommand):
    help = (
        "Restore the newest backup of FOLDER into the shop that SHOPFLOW_DATA and DATABASE_URL name, which must be "
        "empty. Exit status: 0 restored and all agrees, 1 restored and something does not agree, 2 refused."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("folder", type=Path, metavar="FOLDER", help="as given to `manage.py backup`")
        parser.add_argument("--state", default="", help="an older one, by the name of its folder in FOLDER/states")
        parser.add_argument(
            "--despite-damage", action="store_true", help="leave files out that are gone or changed in the backup"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        folder = BackupFolder(options["folder"])
        try:
            with nobody_serves():
                state = folder.state(options["state"])
                restored = restore(folder, state, despite_damage=options["despite_damage"])
        except (CoreError, OSError) as error:
            raise CommandError(str(error), returncode=2) from error
        manifest = state.manifest
        self.stdout.write(f"Backup {state}, made {manifest.made_at} by version {manifest.version}: checked")
        self.stdout.write(f"{restored.files} files put back, then the database")
        for flaw in restored.lost:
            self.stdout.write(f"left out: {flaw}")
        if not self._agrees(state):
            sys.exit(1)

    def _agrees(self, state: State) -> bool:
        """Check the restored shop whole, against the heads kept with the backup; files known to be absent are told."""
        found = examine(proof.read_heads(state.heads))
        absent = {f"file {sha256[:16]}": why for sha256, why in state.manifest.absent.items()}
        flaws = [flaw for flaw in found["flaws"] if flaw.partition(":")[0] not in absent]
        self.stdout.write(
            f"{found['rows']} ledger rows in {found['chains']} chains, {found['files']} files, "
            f"{found['compared']} kept heads compared"
        )
        for file, why in absent.items():
            self.stdout.write(f"{file} is not in the backup: {why}")
        for flaw in flaws:
            self.stdout.write(flaw)
        self.stdout.write(f"{len(flaws)} things do not agree" if flaws else "all agree")
        return not flaws
