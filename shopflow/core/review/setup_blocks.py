"""The [[setup]] tables of SETUP.toml: each setup of the job, and what it knows of the others."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from shopflow.core.orientation import AXES
from shopflow.core.review.setup_typed import Wrong, box, only, vector, whole
from shopflow.core.review.setup_values import SetupBlock, Side, way
from shopflow.core.stock.holding import Solid

_OFFSET = re.compile(r"G5[4-9]|G59\.[1-3]|G54\.1 ?P\d{1,3}", re.ASCII)
_SETUP = frozenset(
    {"program", "number", "work_offset", "up", "along_x", "angles_deg", "zero_mm", "workholding", "later", "known",
     "unknown", "tools"}
)  # fmt: skip


def setup_block(said: dict[str, Any], number: int) -> SetupBlock:
    """One [[setup]]. number: its place in the file, which counts where it says none. Raises Wrong."""
    where = f"[[setup]] {number}"
    only(said, _SETUP, where)
    up, along = said.get("up", "+Z"), said.get("along_x", "+X")
    if up not in AXES or along not in AXES or up[1] == along[1]:
        raise Wrong(f"{where}: up and along_x are two of {', '.join(AXES)} that are square to each other.")
    offset = said.get("work_offset", "G54")
    if not _OFFSET.fullmatch(str(offset)):
        raise Wrong(f"{where}: “{offset}” is no work offset (G54 to G59, G59.1 to G59.3, G54.1 P1 …).")
    sides = {key: tuple(_side(one, where) for one in said.get(key, ())) for key in ("later", "known", "unknown")}
    return SetupBlock(
        number=int(said.get("number", number)),
        work_offset=offset,
        up=up,
        along_x=along,
        zero_mm=vector(said.get("zero_mm"), f"{where} zero_mm"),
        program=str(said.get("program", "")),
        tools=tuple(whole(one, f"{where} tools") for one in said.get("tools", ())),
        angles_deg=vector(said["angles_deg"], f"{where} angles_deg") if "angles_deg" in said else (0.0, 0.0, 0.0),
        solids=tuple(_solid(one, where) for one in said.get("workholding", ())),
        **sides,
    )


def _side(said: Any, where: str) -> Side:
    if isinstance(said, str) and said in AXES:
        return said
    if not isinstance(said, list) or not any(said):
        raise Wrong(f"{where}: later, known and unknown are lists of {', '.join(AXES)}, or of directions [x, y, z].")
    return way(vector(said, f"{where}: a direction"))


def with_others(said: list[dict[str, Any]], blocks: list[SetupBlock]) -> Iterator[SetupBlock]:
    """What a block does not say of others follows from the file: those above are known, those below come later."""
    for index, (given, block) in enumerate(zip(said, blocks, strict=True)):
        above, below = ([one.looks_up for one in part] for part in (blocks[:index], blocks[index + 1 :]))
        yield replace(
            block,
            known=block.known if "known" in given else tuple(dict.fromkeys(above)),
            later=block.later if "later" in given else tuple(dict.fromkeys(below)),
        )


def _solid(said: dict[str, Any], where: str) -> Solid:
    only(said, frozenset({"name", "box_mm"}), f"{where} workholding")
    return Solid(str(said.get("name", "workholding")), box(said.get("box_mm"), f"{where} workholding box_mm"))
