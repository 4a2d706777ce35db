"""What the shop's house rules say about plans, for the core."""

from __future__ import annotations

from shopflow.core.measure import MM_PER_IN
from shopflow.core.planning import PlanRules
from shopflow.people.models import Units
from shopflow.shop import queries as shop

MINUTES = {
    "minutes_vise": "setup_min",
    "minutes_clamps": "setup_clamps_min",
    "minutes_clear": "clear_min",
    "minutes_fixture": "fixture_mount_min",
    "minutes_jaws": "jaws_mount_min",
    "minutes_jaws_cut": "jaws_cut_min",
    "minutes_jaws_recut": "jaws_recut_min",
    "minutes_tilt": "tilt_min",
    "minutes_tool": "setup_tool_min",
    "minutes_load_vise": "load_min",
    "minutes_load_clamps": "load_clamps_min",
    "minutes_load_fixture": "load_fixture_min",
    "minutes_saw": "saw_each_min",
    "minutes_saw_rate": "saw_cm2_min",
    "minutes_deburr": "deburr_each_min",
    "minutes_deburr_rate": "deburr_mm_min",
    "minutes_inspect": "inspect_each_min",
    "minutes_measurement": "inspect_characteristic_min",
}
"""Which field of PlanRules a house rule about minutes sets."""


def plan_rules(units: str = Units.MM) -> PlanRules:
    """The shop's house rules about plans, in force today."""
    values = {key: float(value) for key, value in shop.house_rule_values().items()}
    return PlanRules(
        side_allowance_mm=values["plan_side_allowance"],
        top_allowance_mm=values["plan_top_allowance"],
        grip_mm=values["plan_grip"],
        jaw_height_mm=values["plan_jaw_height"],
        depth_to_grip=values["plan_depth_to_grip"],
        corner_share=values["plan_corner_share"],
        finish_stock_mm=values["plan_finish_stock"],
        scallop_mm=values["plan_scallop"],
        tilted=values["plan_tilted"] > 0,
        sine_bar_mm=values["plan_sine_bar"],
        hss_plunge=values["hss_plunge_decide"],
        size_step_mm=float(MM_PER_IN) / 16 if units == Units.INCH else 1.0,
        unit=units,
        **{field: values[key] for key, field in MINUTES.items()},
    )
