"""Reads or draws a model: a look at its bytes, at most two attempts in the geometry process, then a plain refusal."""

from __future__ import annotations

import json
import signal
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any, TypeVar

from shopflow.core.errors import Unreadable
from shopflow.core.solid import warm_codes
from shopflow.core.solid.drawing import STANDARD, Drawing, View
from shopflow.core.solid.kernel import Kernel, Outcome, Progress, kernel
from shopflow.core.solid.limits import DEFAULT, Limits
from shopflow.core.solid.mesh import Mesh
from shopflow.core.solid.reading import Reading
from shopflow.core.solid.request import DRAWINGS_FILE, MESH_FILE, READING_FILE, REFUSAL_FILE, Request
from shopflow.core.solid.sniff import EXPORT_AGAIN, sniff

Result = TypeVar("Result")

WITHOUT_ANNOTATIONS = (
    "Reading the dimensions and tolerances in the file made the geometry kernel fail ({how}); the geometry was read "
    "without them, so take dimensions and tolerances from the print."
)


def read(
    path: Path,
    *,
    limits: Limits = DEFAULT,
    solid_index: int | None = None,
    deflection_mm: float | None = None,
    progress: Progress | None = None,
    using: Kernel | None = None,
) -> Reading:
    """Read a STEP model: facts, features and mesh, from one pass over the file.

    solid_index: counted from 0; None measures all solids together and says so when there are several.
    deflection_mm: of the mesh, None to scale with the box. progress: called with a word of request.STEPS as the work
    goes on. using: another warm parent than this process' own. Raises Unreadable with what is wrong and what to do,
    and KernelFailed when the geometry process cannot be had at all.
    """
    path = Path(path).resolve()
    if progress:
        progress("opening")
    sniff(path, limits)
    with tempfile.TemporaryDirectory(prefix="shopflow-solid-") as folder:
        request = Request(str(path), "", True, solid_index, deflection_mm, limits=limits)
        requests = [request, replace(request, annotations=False)]
        how, reading = _attempts(requests, Path(folder), using or kernel(), progress, _result)
    if how:
        return replace(reading, warnings=(WITHOUT_ANNOTATIONS.format(how=how), *reading.warnings))
    return reading


def draw(
    path: Path,
    *,
    views: Sequence[View] = STANDARD,
    limits: Limits = DEFAULT,
    solid_index: int | None = None,
    progress: Progress | None = None,
    using: Kernel | None = None,
) -> tuple[Drawing, ...]:
    """Line drawings of a model with hidden lines told apart, one a view; raises as `read` does."""
    path = Path(path).resolve()
    sniff(path, limits)
    asked = tuple(asdict(view) for view in views)
    with tempfile.TemporaryDirectory(prefix="shopflow-solid-") as folder:
        request = Request(str(path), "", False, solid_index, limits=limits, views=asked)
        return _attempts([request, request], Path(folder), using or kernel(), progress, _drawings)[1]


def _attempts(
    requests: Sequence[Request],
    folder: Path,
    geometry: Kernel,
    progress: Progress | None,
    result: Callable[[Path, Limits], Result],
) -> tuple[str, Result]:
    """The first result, with how the attempts before it failed; Unreadable when none of them gives one."""
    how = ""
    for number, request in enumerate(requests):
        out = folder / str(number)
        out.mkdir()
        failed, found = _attempt(replace(request, out=str(out)), out, geometry, progress, result)
        if found is not None:
            return how, found
        how = failed
    raise Unreadable(f"The geometry kernel could not read this file in two attempts: {how}.", mend=EXPORT_AGAIN)


def _attempt(
    request: Request,
    out: Path,
    geometry: Kernel,
    progress: Progress | None,
    result: Callable[[Path, Limits], Result],
) -> tuple[str, Result | None]:
    """How the attempt failed, in words, or its result; what a child leaves is trusted no more than the file."""
    outcome = geometry.run(request, progress)
    if outcome.end == "exit" and outcome.code == warm_codes.REFUSED:
        raise _refusal(out)
    if outcome.end != "exit" or outcome.code != warm_codes.DONE:
        return in_words(outcome, request.limits), None
    try:
        return "", result(out, request.limits)
    except (OSError, ValueError, TypeError, KeyError, RecursionError):
        return "what it wrote as its result makes no sense", None


def _drawings(out: Path, limits: Limits) -> tuple[Drawing, ...]:
    return tuple(Drawing.from_json(drawing) for drawing in json.loads(_bounded(out / DRAWINGS_FILE, limits)))


def _result(out: Path, limits: Limits) -> Reading:
    data = json.loads(_bounded(out / READING_FILE, limits))
    mesh = _bounded(out / MESH_FILE, limits)
    return Reading.from_json(data, Mesh.from_bytes(mesh) if mesh else None)


def _refusal(out: Path) -> Unreadable:
    said: dict[str, Any] = json.loads(_bounded(out / REFUSAL_FILE, DEFAULT))
    return Unreadable(str(said["what"]), where=str(said["where"]), mend=str(said["mend"]))


def _bounded(path: Path, limits: Limits) -> bytes:
    if path.is_symlink() or path.stat().st_size > limits.output_bytes:
        raise ValueError("not a result")
    return path.read_bytes()


def in_words(outcome: Outcome, limits: Limits) -> str:
    """How an attempt ended, as the end of a sentence."""
    while_ = f"while {outcome.step}"
    if outcome.end == "time":
        return f"it took longer than {limits.wall_s:.0f} s {while_}"
    if outcome.end == "signal" and outcome.signal == signal.SIGXCPU:
        return f"it used more than {limits.cpu_s} s of processor time {while_}"
    if outcome.end == "signal" and outcome.signal == signal.SIGXFSZ:
        return f"its result grew larger than {limits.output_bytes / 1e6:.0f} MB"
    if outcome.end == "signal":
        return f"it crashed {while_} (signal {outcome.signal})"
    if outcome.code == warm_codes.OUT_OF_MEMORY:
        return f"it needed more than {limits.memory_bytes / 1024**3:.2g} GB of memory {while_}"
    return f"it stopped with an error {while_}"
