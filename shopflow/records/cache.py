"""Results and checkpoints of long work that can be computed again: meshes, pictures, columns of material.

A folder with a size limit, apart from the files that must be kept; it may be emptied at any time, even while running.
"""

from __future__ import annotations

import os
import time
import uuid
from pathlib import Path

from django.conf import settings

from shopflow.records.canonical import digest

MOST_BYTES = 5 * 1024**3
TRIM_EVERY_S = 60.0
_last_trim = [0.0]


def key(kind: str, **inputs: object) -> str:
    """The name of a result: hash of its kind and of all it depends on (values that records.canonical takes)."""
    return digest({"kind": kind, "inputs": inputs})


def read(name: str) -> bytes | None:
    """The bytes kept under a key, or None; reading makes them young again."""
    path = _path(name)
    try:
        content = path.read_bytes()
        os.utime(path)
    except FileNotFoundError:
        return None
    return content


def write(name: str, content: bytes) -> None:
    """Keep bytes under a key; of two writers at once one wins, and a reader never sees half."""
    path = _path(name)
    path.parent.mkdir(parents=True, exist_ok=True)
    unfinished = path.parent / f"{uuid.uuid4().hex}.part"
    try:
        unfinished.write_bytes(content)
        os.replace(unfinished, path)
    finally:
        unfinished.unlink(missing_ok=True)
    if time.monotonic() - _last_trim[0] > TRIM_EVERY_S:
        trim()


def trim(most_bytes: int | None = None) -> int:
    """Remove what was used longest ago until the rest is below the limit; the bytes removed."""
    _last_trim[0] = time.monotonic()
    kept = sorted(_files(), key=lambda entry: entry[1].st_mtime)
    excess = sum(stat.st_size for _, stat in kept) - (MOST_BYTES if most_bytes is None else most_bytes)
    removed = 0
    for path, stat in kept:
        if removed >= excess:
            break
        path.unlink(missing_ok=True)
        removed += stat.st_size
    return removed


def _files() -> list[tuple[Path, os.stat_result]]:
    found = []
    for path in Path(settings.CACHE_DIR).glob("results/??/*"):
        try:
            found.append((path, path.stat()))
        except FileNotFoundError:
            continue  # another process removed it meanwhile
    return found


def _path(name: str) -> Path:
    return Path(settings.CACHE_DIR) / "results" / name[:2] / name
