"""Back the shop up into a folder, while people work."""

from __future__ import annotations

import sys
from argparse import ArgumentParser, ArgumentTypeError
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from shopflow.core.errors import CoreError
from shopflow.records import backup
from shopflow.records.backup_folder import BackupFolder


def at_least_one(text: str) -> int:
    if not text.isdecimal() or int(text) < 1:
        raise ArgumentTypeError("keep at least one")
    return int(text)


class Command(BaseCommand):
    help = (
        "Back up database and files into FOLDER, which gets only what is new. "
        "Exit status: 0 all well, 1 a file of the shop or of the backup is damaged, 2 no backup was made."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("folder", type=Path, metavar="FOLDER", help="best on another disk or another machine")
        parser.add_argument("--keep", type=at_least_one, default=30, help="states to keep, the newest (default: 30)")
        parser.add_argument("--check", action="store_true", help="make none; read the newest and tell what is wrong")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            self._check(options["folder"]) if options["check"] else self._make(options["folder"], options["keep"])
        except (CoreError, OSError) as error:
            raise CommandError(str(error), returncode=2) from error

    def _make(self, folder: Path, keep: int) -> None:
        made = backup.make(BackupFolder(folder), keep=keep)
        counts = made.state.manifest.counts
        self.stdout.write(
            f"Backup {made.state} in {folder}: {counts['ledger_rows']} ledger rows in {counts['chains']} chains, "
            f"{counts['files']} files ({made.new_files} new), {counts['withdrawn']} withdrawn"
        )
        for sha256, why in made.state.manifest.absent.items():
            self.stdout.write(f"file {sha256[:16]} is not in it: {why}")
        if made.states_removed:
            self.stdout.write(f"{made.states_removed} older states removed, {keep} kept")
        if made.damaged:
            self.stdout.write("The backup is whole but for these files. Run verify_records and look into it.")
            sys.exit(1)

    def _check(self, folder: Path) -> None:
        state, flaws = backup.check(folder)
        for flaw in flaws:
            self.stdout.write(flaw)
        self.stdout.write(f"Backup {state}: {f'{len(flaws)} files are not as they were' if flaws else 'all is there'}")
        if flaws:
            sys.exit(1)
