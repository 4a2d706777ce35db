"""Which work materials let a cutter go deeper and steeper (common practice, no source)."""

from __future__ import annotations

from shopflow.core.cutting.groups import group_of
from shopflow.core.types import Material

SOFT = frozenset({"aluminium", "magnesium", "brass and bronze", "plastic"})


def is_soft(material: Material | None) -> bool:
    """Whether it is one of them; a material that is not known is not."""
    return material is not None and group_of(material.group, material.name) in SOFT
