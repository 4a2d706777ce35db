"""The tables of SETUP.toml: [blank], [machine], [material], [plan], [lot] and [[wear]]."""

from __future__ import annotations

from dataclasses import fields
from decimal import Decimal
from typing import Any, TypeVar

from shopflow.core.cutting.power import read_curve
from shopflow.core.review.finding import PersonTouch, PlanFacts
from shopflow.core.review.life import Edge, LifeUnit, OnHand, Wear
from shopflow.core.review.setup_typed import Wrong, box, need, numbers, only, vector
from shopflow.core.review.setup_values import AS_MODEL, LETTERS, SetupBlock
from shopflow.core.stock.blanks import BlankForm
from shopflow.core.stock.shapes import Hole
from shopflow.core.types import Box, Machine, Material


def blanks(said: dict[str, Any]) -> tuple[Box, Box]:
    """[blank]: the largest and the smallest one, mm in the model's coordinates. Raises Wrong, as all of these do."""
    only(said, frozenset({"largest_mm", "smallest_mm", "round_along", "hole", "model"}), "[blank]")
    if "model" in said:
        beside = sorted(set(said) - {"model"})
        if beside:
            raise Wrong(f"[blank] model gives size and shape, one for all blanks: leave out {beside[0]}.")
        return AS_MODEL, AS_MODEL
    largest = box(said.get("largest_mm"), "[blank] largest_mm")
    return largest, box(said["smallest_mm"], "[blank] smallest_mm") if "smallest_mm" in said else largest


def form_of(said: dict[str, Any]) -> BlankForm:
    """[blank]: what it is besides a box."""
    if "model" in said:
        if not need(said, "model", str, "[blank]"):
            raise Wrong("[blank] model is the name of a STEP file.")
        return BlankForm(model=said["model"])
    along = said.get("round_along", "")
    if along not in ("", *LETTERS):
        raise Wrong("[blank] round_along is X, Y or Z, the model's axis that the round lies along.")
    return BlankForm(LETTERS.index(along) if along else -1, tuple(_hole(one) for one in said.get("hole", ())))


def _hole(said: dict[str, Any]) -> Hole:
    where = "[[blank.hole]]"
    only(said, frozenset({"axis", "at_mm", "diameter_mm"}), where)
    if said.get("axis") not in LETTERS:
        raise Wrong(f"{where} axis is X, Y or Z.")
    (diameter,) = numbers([said.get("diameter_mm")], 1, f"{where} diameter_mm")
    if not diameter > 0.0:
        raise Wrong(f"{where} diameter_mm is to be above 0.")
    first, second = numbers(said.get("at_mm"), 2, f"{where} at_mm")
    return Hole(LETTERS.index(said["axis"]), (first, second), diameter)


_VECTORS = frozenset({"travel_mm", "rapid_mm_min", "acceleration_mm_s2"})
MACHINE_KEYS = tuple(one.name for one in fields(Machine) if one.name != "control")
MATERIAL_KEYS = tuple(one.name for one in fields(Material))


def machine(said: dict[str, Any]) -> Machine:
    """[machine], with the plain control until the file's own is read."""
    only(said, frozenset(MACHINE_KEYS), "[machine]")
    given = {
        key: vector(value, f"[machine] {key}") if key in _VECTORS else _plain(value)
        for key, value in said.items()
        if key != "power_curve"
    }
    if "power_curve" in said:
        given["power_curve"] = _curve(said["power_curve"])
    return _made(Machine, given, "[machine]")


def _curve(value: Any) -> tuple[tuple[float, float], ...]:
    where = "[machine] power_curve"
    if not isinstance(value, list):
        raise Wrong(f"{where} is to be pairs of rpm and kW: [[1500, 7.5], [8000, 7.5]].")
    pairs = [numbers(pair, 2, f"{where}: each pair") for pair in value]
    try:
        return read_curve(", ".join(f"{rpm!r} {kw!r}" for rpm, kw in pairs))
    except ValueError as error:
        raise Wrong(f"{where}: {error}.") from error


def material(said: dict[str, Any]) -> Material:
    only(said, frozenset(MATERIAL_KEYS), "[material]")
    return _made(Material, {key: _plain(value) for key, value in said.items()}, "[material]")


def _plain(value: Any) -> Any:
    return float(value) if isinstance(value, Decimal) else value


Made = TypeVar("Made", Machine, Material)


def _made(kind: type[Made], given: dict[str, Any], where: str) -> Made:
    try:
        return kind(**given)
    except TypeError as error:
        raise Wrong(f"{where}: {str(error).partition(' ')[2]}.") from error


def on_hand(said: dict[str, Any]) -> OnHand:
    """[lot] and [[wear]] of the whole file."""
    lot, wear = said.get("lot", {}), []
    only(lot, frozenset({"pieces"}), "[lot]")
    for one in said.get("wear", ()):
        only(one, frozenset({"tool", "edge", "left", "unit", "finishes"}), "[[wear]]")
        number = int(need(one, "tool", int, "[[wear]]"))
        try:
            edge, unit = Edge(one.get("edge", Edge.SHARP)), LifeUnit(one.get("unit", LifeUnit.MINUTES))
        except ValueError as error:
            raise Wrong(f"[[wear]] of tool {number}: {error}.") from error
        left = float(one["left"]) if "left" in one else None
        wear.append(Wear(number, edge, left, unit, one.get("finishes") is True))
    return OnHand(int(lot.get("pieces", 0)), tuple(wear))


def plan_facts(said: dict[str, Any], blocks: tuple[SetupBlock, ...]) -> PlanFacts:
    only(said, frozenset({"minutes", "tools", "order", "touch"}), "[plan]")
    by_number = {one.number: one.work_offset for one in blocks}
    touches = []
    for one in said.get("touch", ()):
        only(one, frozenset({"after_setup", "reason", "work_offset", "next_work_offset"}), "[[plan.touch]]")
        after = int(need(one, "after_setup", int, "[[plan.touch]]"))
        here, later = by_number.get(after, ""), by_number.get(after + 1, "")
        offsets = one.get("work_offset", here), one.get("next_work_offset", later)
        touches.append(PersonTouch(after, str(one.get("reason", "")), *offsets))
    order = said.get("order", ())
    by_offset = order if isinstance(order, dict) else {}
    return PlanFacts(
        person_touches=tuple(touches),
        work_offsets=tuple(dict.fromkeys(one.work_offset for one in blocks if not one.program)),
        tools=tuple(int(number) for number in said.get("tools", ())),
        minutes=float(said.get("minutes", 0)),
        order=() if by_offset else tuple(int(number) for number in order),
        orders=tuple((offset, tuple(int(number) for number in tools)) for offset, tools in by_offset.items()),
    )
