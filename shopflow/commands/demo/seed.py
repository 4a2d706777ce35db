"""The files of seed_data, as plain values."""

from __future__ import annotations

import csv
import tomllib
from pathlib import Path
from typing import Any

from django.conf import settings

FOLDER = Path(settings.BASE_DIR) / "seed_data"


def path(name: str) -> Path:
    return FOLDER / name


def rows(name: str) -> list[dict[str, str]]:
    """The lines of a CSV file by its headings."""
    with path(name).open(newline="", encoding="utf-8") as handle:
        return list(csv.DictReader(handle))


def values(name: str) -> dict[str, Any]:
    """A TOML file."""
    return tomllib.loads(path(name).read_text(encoding="utf-8"))
