"""Planned minutes against the simulated minutes of programs that were written by hand, without a plan.

Only what both cut is compared: the programs leave edges to the bench, and the manifold block comes squared to size. The
shares and links behind the plan's minutes (core.planning.minutes) are one set for all parts. -s prints the table.
"""

from pathlib import Path

import pytest

from shopflow.core import solid
from shopflow.core.cutting.time import cycle_time
from shopflow.core.nc import read
from shopflow.core.planning import Given, OperationKind, cutting_minutes, propose
from shopflow.core.planning.operations import HOLE_KINDS
from shopflow.shop import csv_files, queries
from shopflow.shop.models import Machine, Material
from shopflow.shop.tables import TABLES

SEED = Path(__file__).resolve().parents[2] / "seed_data"
WITHIN = 0.35
NOT_EDGES = frozenset(OperationKind) - {OperationKind.EDGES}
PARTS = {
    "BK-104": ("aluminium 6061", "Alder", ["BK-104-1", "BK-104-2"], NOT_EDGES),
    "CV-220": ("steel 1018", "Alder", ["CV-220-1", "CV-220-2"], NOT_EDGES),
    "MB-31": ("aluminium 6061", "Birch", ["MB-31-mended"], HOLE_KINDS),
}


@pytest.fixture
def shop(lead):
    for key, name in (
        ("holders", "holders"), ("crib", "tools"), ("machines", "machines"), ("materials", "materials"),
        ("cutting", "own_cutting_data"),
    ):  # fmt: skip
        csv_files.apply(csv_files.read(TABLES[key], (SEED / f"{name}.csv").read_text()), by=lead)


@pytest.mark.parametrize("part", PARTS)
def test_planned_minutes_lie_within_a_third_of_the_program_s(shop, part):
    material, machine, programs, kinds = PARTS[part]
    mill = queries.core_machine(Machine.objects.get(name=machine))
    made = propose(
        solid.read(SEED / "models" / f"{part}.step"),
        Given(
            crib=[tool.as_core() for tool in queries.tools() if tool.on_hand],
            machines=[mill],
            material=Material.objects.get(name=material).as_core(),
            own=queries.own_cutting_data(),
        ),
    )
    both = [[one for one in setup.operations if one.kind in kinds] for setup in made.setups]
    planned = sum(cutting_minutes(operations, mill) for operations in both)
    motions = [read((SEED / "programs" / f"{name}.nc").read_bytes(), control=mill.control).motions for name in programs]
    simulated = sum(cycle_time(one, mill).total_s for one in motions) / 60
    print(f"{part}: plan {planned:.2f} min, program {simulated:.2f} min, ratio {planned / simulated:.2f}")  # noqa: T201
    assert abs(planned / simulated - 1) <= WITHIN
