"""Stations: the machines, and the benches where work without a machine of its own is done."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Q
from django.urls import reverse
from django.utils.translation import gettext as _

from shopflow.floor import queries
from shopflow.floor.queries import Waiting
from shopflow.jobs.models import Step
from shopflow.shop.models import Machine

BENCHES = (Step.Kind.SAW, Step.Kind.DEBURR, Step.Kind.OUTSIDE, Step.Kind.OTHER)
"""Kinds of steps that have a bench; inspection and shipping have pages of their own."""


@dataclass(frozen=True)
class Station:
    """A place to stand at. key: "m3" for machine 3, or the kind of a bench."""

    key: str
    name: str
    steps: Q

    @property
    def url(self) -> str:
        return reverse("floor:station", args=[self.key])

    def waiting(self) -> list[Waiting]:
        return queries.waiting(self.steps)


def _machine_station(machine: Machine) -> Station:
    return Station(f"m{machine.pk}", machine.name, Q(step__setup__machine=machine))


def _bench(kind: Step.Kind) -> Station:
    names = {
        Step.Kind.SAW: _("Saw"),
        Step.Kind.DEBURR: _("Deburr bench"),
        Step.Kind.OUTSIDE: _("Outside work"),
        Step.Kind.OTHER: _("Other work"),
    }
    return Station(kind.value, names[kind], Q(step__kind=kind, step__setup__machine__isnull=True))


def all_stations() -> list[tuple[Station, list[Waiting]]]:
    """Every station with what waits there, in one query for all that waits."""
    everything = queries.waiting(Q())
    stations = [_machine_station(machine) for machine in Machine.objects.all()] + [_bench(kind) for kind in BENCHES]
    by_key: dict[str, list[Waiting]] = {station.key: [] for station in stations}
    for waiting in everything:
        here = station_of_step(waiting.step)
        if here and here.key in by_key:
            by_key[here.key].append(waiting)
    return [(station, by_key[station.key]) for station in stations]


def station_for(key: str) -> Station | None:
    if key in {kind.value for kind in BENCHES}:
        return _bench(Step.Kind(key))
    if key.startswith("m") and key[1:].isdigit():
        machine = Machine.objects.filter(pk=int(key[1:])).first()
        return _machine_station(machine) if machine else None
    return None


def station_of_step(step: Step) -> Station | None:
    """Where a step is worked on; None for inspection and shipping."""
    if step.setup and step.setup.machine:
        return _machine_station(step.setup.machine)
    return _bench(Step.Kind(step.kind)) if step.kind in BENCHES else None
