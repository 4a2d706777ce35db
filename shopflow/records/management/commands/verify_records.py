"""Walk every chain and every file and tell what does not agree."""

from __future__ import annotations

import json
import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from shopflow.core.errors import Unreadable
from shopflow.records import files, proof, protect
from shopflow.records.models import LedgerRow, StoredFile


class Command(BaseCommand):
    help = (
        "Check the ledger's chains and the stored files. Exit status: 0 all agree, 1 something does not, 2 unreadable."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--against", type=Path, metavar="FILE", help="chain heads from paper or a backup, `chain seq hash` a line"
        )
        parser.add_argument(
            "--heads", action="store_true", help="only print today's chain heads, as --against reads them"
        )
        parser.add_argument("--json", action="store_true", help="print one JSON object")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["heads"]:
            self.stdout.write(proof.heads_text(), ending="")
            return
        found = examine(_noted(options["against"]))
        self.stdout.write(json.dumps(found) if options["json"] else _as_text(found))
        if not found["agree"]:
            sys.exit(1)


def examine(noted: list[proof.Head]) -> dict[str, Any]:
    """All there is to check: how much was checked, and what does not agree, as text."""
    file_flaws = list(files.verify())
    flaws = [
        *proof.verify_all(noted),
        *(flaw for flaw in file_flaws if not flaw.is_withdrawn),
        *(f"table {table}: its append-only trigger is missing or changed" for table in protect.check()),
    ]
    return {
        "agree": not flaws,
        "chains": len(proof.chains()),
        "rows": LedgerRow.objects.count(),
        "files": StoredFile.objects.count(),
        "withdrawn": [flaw.sha256 for flaw in file_flaws if flaw.is_withdrawn],
        "compared": len(noted),
        "flaws": [str(flaw) for flaw in flaws],
    }


def _noted(path: Path | None) -> list[proof.Head]:
    if path is None:
        return []
    try:
        return proof.read_heads(path.read_text())
    except (OSError, UnicodeDecodeError, Unreadable) as error:
        raise CommandError(f"{path}: {error}", returncode=2) from error


def _as_text(found: dict[str, Any]) -> str:
    lines = [
        f"{found['rows']} ledger rows in {found['chains']} chains, {found['files']} files "
        f"({len(found['withdrawn'])} withdrawn), {found['compared']} noted heads compared",
        *found["flaws"],
        "all agree" if found["agree"] else f"{len(found['flaws'])} things do not agree",
    ]
    return "\n".join(lines)
