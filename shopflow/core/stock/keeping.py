"""Columns as bytes for a cache, and the key under which they are kept.

The bytes, little endian: the letters SFC1, uint32 length of the header, the header as JSON (grid, error of a turn, and
for each set its axis, capacity, columns and intervals), then for each set, packed by zlib: the counts, and the ends
that are used.
"""

from __future__ import annotations

import hashlib
import json
import struct
import zlib
from typing import Any

import numpy as np

from shopflow.core.stock.columns import Columns, ColumnSet, with_sets
from shopflow.core.stock.grid import Grid

MAGIC = b"SFC1"
VERSION = 3
"""Of the simulation: a change of what it computes changes it, so that no stored state of an older one is used."""

_HEAD = struct.Struct("<4sI")


def key(*inputs: bytes | str) -> str:
    """SHA-256, as hexadecimal digits, of everything a state follows from, and of the version of the simulation."""
    digest = hashlib.sha256(f"stock {VERSION}".encode())
    for one in inputs:
        data = one.encode() if isinstance(one, str) else one
        digest.update(struct.pack("<Q", len(data)) + data)
    return digest.hexdigest()


def to_bytes(columns: Columns) -> bytes:
    """The columns packed, without loss."""
    parts, sets = [], []
    for one in columns.kept:
        used = one.ends[_used(one)]
        packed = zlib.compress(one.count.tobytes() + used.astype("<f4").tobytes(), 1)
        parts.append(packed)
        sets.append([one.axis, one.capacity, len(packed), len(used)])
    grid = columns.grid
    said = {"origin": grid.origin, "pitch": grid.pitch, "shape": grid.shape, "sets": sets}
    turned = {"turned_mm": columns.turned_mm} if columns.turned_mm else {}
    header = json.dumps(said | turned).encode()
    return _HEAD.pack(MAGIC, len(header)) + header + b"".join(parts)


def from_bytes(data: bytes) -> Columns:
    """The columns in these bytes; raises ValueError where they are none, or damaged."""
    try:
        magic, length = _HEAD.unpack_from(data)
        header: dict[str, Any] = json.loads(data[_HEAD.size : _HEAD.size + length])
        grid = Grid(tuple(header["origin"]), header["pitch"], tuple(header["shape"]))
        at, made = _HEAD.size + length, {}
        for axis, capacity, size, pieces in header["sets"]:
            made[axis] = _set(grid, axis, capacity, pieces, zlib.decompress(data[at : at + size]))
            at += size
        if magic != MAGIC or at != len(data):
            raise ValueError("length")
        return with_sets(grid, made, float(header.get("turned_mm", 0.0)))
    except (struct.error, zlib.error, KeyError, TypeError, ValueError) as error:
        raise ValueError("not columns of material, or damaged") from error


def _set(grid: Grid, axis: int, capacity: int, pieces: int, data: bytes) -> ColumnSet:
    shape = tuple(cells for number, cells in enumerate(grid.shape) if number != axis)
    size = shape[0] * shape[1]
    count = np.frombuffer(data, np.uint8, size).reshape(shape).copy()
    used = np.frombuffer(data, "<f4", 2 * pieces, size).reshape(-1, 2)
    one = ColumnSet(axis, count, np.zeros((*shape, capacity, 2), np.float32))
    one.ends[_used(one)] = used
    return one


def _used(one: ColumnSet) -> np.ndarray[Any, np.dtype[np.bool_]]:
    used: np.ndarray[Any, np.dtype[np.bool_]] = np.arange(one.capacity) < one.count[:, :, None]
    return used
