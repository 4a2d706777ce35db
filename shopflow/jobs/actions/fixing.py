"""What a person types stays when the plan is proposed again: each row remembers the names of such fields."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from shopflow.jobs.models import Operation, Setup, Step


def write_typed(row: Setup | Step | Operation, typed: Mapping[str, Any]) -> list[str]:
    """Set the fields that differ, mark them as typed, and give their names; the caller saves."""
    changed = [name for name, value in typed.items() if getattr(row, name) != value]
    for name in changed:
        setattr(row, name, typed[name])
    fix(row, *changed)
    return changed


def fix(row: Setup | Step | Operation, *names: str) -> None:
    row.fixed = sorted({*row.fixed, *names})
