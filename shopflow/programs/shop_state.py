"""One hash of everything in the shop that reviews read: equal means that no change of the shop calls for a review."""

from __future__ import annotations

from django.db import models

from shopflow.programs import reviewing, simulating
from shopflow.records.canonical import digest
from shopflow.shop.models import ControlProfile, Holder, HouseRule, Machine, Material, Tool

TABLES: tuple[type[models.Model], ...] = (Tool, Holder, Machine, Material, HouseRule, ControlProfile)

OF_THE_DAY: dict[type[models.Model], frozenset[str]] = {Tool: frozenset({"life_used", "edge"})}
"""What changes with every piece that is cut, and calls for no review."""


def digest_of_shop() -> str:
    """Six small tables and the versions of what reviews and cuts; cheap enough to be asked every minute."""
    versions = [reviewing.VERSION, simulating.VERSION]
    return digest({"version": versions, "tables": [_rows(table) for table in TABLES]})


def _rows(table: type[models.Model]) -> list[list[str]]:
    names = [field.attname for field in table._meta.concrete_fields if field.attname not in OF_THE_DAY.get(table, ())]
    return [[str(value) for value in row] for row in table._default_manager.order_by("pk").values_list(*names)]
