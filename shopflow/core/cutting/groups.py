"""Which group of work materials a shop's own words for a material belong to."""

from __future__ import annotations

from shopflow.core.types import Material

UNKNOWN = ""
"""Rows of no group hold for anything; they are slow enough for most steels."""

GROUPS = (
    ("aluminium", ("alumin",)),
    ("magnesium", ("magnes",)),
    ("brass and bronze", ("brass", "bronze")),
    ("stainless steel", ("stainless",)),
    ("titanium", ("titan",)),
    ("tool steel", ("tool steel",)),
    ("alloy steel", ("alloy steel",)),
    ("medium carbon steel", ("medium carbon",)),
    ("low carbon steel", ("low carbon", "mild steel", "free-cutting steel", "free-machining steel")),
    ("cast iron", ("cast iron", "grey iron", "gray iron")),
    ("plastic", ("plastic", "acetal", "nylon", "acrylic", "polycarbonate", "polyethylene")),
    ("low carbon steel", ("steel",)),
)
"""The first with a word in the text counts, so special steels stand before plain steel."""


def group_of(group: str, name: str = "") -> str:
    """The group of the default rows by what the shop calls the material's group, else by its name; UNKNOWN if none."""
    for text in (group.lower(), name.lower()):
        found = next((known for known, words in GROUPS if any(word in text for word in words)), None)
        if found:
            return found
    return UNKNOWN


def names_of(material: Material | None) -> tuple[str, ...]:
    """What a row may call this material, the closest first: its name, its group in the shop, the known group, any."""
    if material is None:
        return (UNKNOWN,)
    said = (material.name, material.group, group_of(material.group, material.name))
    return (*dict.fromkeys(text.casefold() for text in said if text), UNKNOWN)
