"""The demo's crib, machines, materials and gauges, through the same reader as a file that a person sends."""

from __future__ import annotations

from shopflow.commands.demo import seed
from shopflow.core.errors import NotPossible
from shopflow.people import actions as people
from shopflow.people.models import User
from shopflow.shop import csv_files
from shopflow.shop.tables import TABLES

FILES = {
    "holders": "holders.csv",
    "crib": "tools.csv",
    "machines": "machines.csv",
    "materials": "materials.csv",
    "cutting": "own_cutting_data.csv",
    "gauges": "gauges.csv",
    "rack": "rack.csv",
    "fixtures": "fixtures.csv",
}


def load(by: User) -> None:
    people.change_shop_settings(**seed.values("shop.toml"), by=by)
    for key, name in FILES.items():
        reading = csv_files.read(TABLES[key], seed.path(name).read_text(encoding="utf-8"))
        if not reading.is_all_good:
            first = [*reading.problems, *(f"line {line.number}: {line.problems[0]}" for line in reading.bad)][0]
            raise NotPossible(f"seed_data/{name}: {first}")
        csv_files.apply(reading, by=by)
