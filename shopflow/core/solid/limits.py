"""What one read of a model may cost."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Limits:
    """Bounds on one attempt at reading a model; a read makes at most two attempts.

    file_bytes: largest accepted file. wall_s: elapsed time, after which the child's whole process group is killed.
    cpu_s: processor time of each of its processes. memory_bytes: address space of each of its processes (the child and
    at most two helpers forked from it; about 0.45 GB of it is the imported library, shared between all reads).
    output_bytes: largest result. mesh_s: time for one try at a mesh before a coarser one is tried.
    view_s: time for the exact lines of one view before quicker ones are drawn. views_s: for those of all views of a
    drawing; views whose turn comes later are drawn the quick way.
    solids: more solids than this in one file are listed, not measured for features.
    """

    file_bytes: int = 100 * 1024 * 1024
    wall_s: float = 120.0
    cpu_s: int = 120
    memory_bytes: int = 3 * 1024**3
    output_bytes: int = 256 * 1024 * 1024
    mesh_s: float = 20.0
    view_s: float = 20.0
    views_s: float = 60.0
    solids: int = 40


DEFAULT = Limits()
"""What a read may cost when nobody says otherwise."""
