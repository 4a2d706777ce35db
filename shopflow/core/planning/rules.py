"""What a plan takes for granted unless the shop says otherwise. Every default is common practice with no source."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class PlanRules:
    """Lengths mm, times minutes, areas cm².

    side_allowance_mm: stock left on each side of the box in X and Y of the first setup. top_allowance_mm: on its top.
    grip_mm: height that the jaws hold; over_jaws_mm: between the jaws and the lowest cut, so that the first setup can
    cut the outline without touching them. Both are stock under the part, which the last setup faces off.
    size_step_mm: sawn sizes are rounded up to it. widest_in_vise_mm: jaws open no further. corner_share: an end mill's
    radius is at most this share of an inside corner's, since one of the same radius stops and chatters in the corner.
    finish_stock_mm: what roughing leaves for the last pass. scallop_mm: height of the ridges between a ball's rows.
    ream_tolerance_mm: holes with a narrower tolerance are reamed, or bored from bore_from_mm on. thread_mill_mm:
    threads from this major diameter on are milled. hole_share: an end mill that bores a hole is at most this share of
    its diameter. drill_size_mm: a drill may differ from the hole by this much. hss_plunge: diameters that
    a drill of high-speed steel goes without pecks. tilted: whether what no side reaches is planned in tilted
    clampings; sine_bar_mm: between the rolls of the bar that sets them; tilt_min: to set and indicate the angle.
    saw_cm2_min: cut area a minute. deburr_mm_min: edge length a minute by hand. jaws_cut_min: to cut the first shape
    into soft jaws; jaws_recut_min: to cut it true again. clear_min: the table, where a fixture takes the place of the
    vise.
    unit: "mm" or "in", in which sentences say lengths; everything computed stays in mm.
    """

    side_allowance_mm: float = 2.5
    top_allowance_mm: float = 1.5
    grip_mm: float = 4.0
    over_jaws_mm: float = 1.0
    size_step_mm: float = 1.0
    widest_in_vise_mm: float = 150.0
    jaw_height_mm: float = 44.0
    depth_to_grip: float = 10.0
    corner_share: float = 0.9
    finish_stock_mm: float = 0.3
    scallop_mm: float = 0.01
    ream_tolerance_mm: float = 0.05
    bore_from_mm: float = 20.0
    thread_mill_mm: float = 20.0
    hole_share: float = 0.8
    drill_size_mm: float = 0.03
    hss_plunge: float = 3.0
    tilted: bool = True
    sine_bar_mm: float = 100.0
    saw_cm2_min: float = 25.0
    saw_each_min: float = 1.0
    setup_min: float = 20.0
    setup_clamps_min: float = 40.0
    tilt_min: float = 15.0
    setup_tool_min: float = 2.0
    jaws_mount_min: float = 5.0
    jaws_cut_min: float = 15.0
    jaws_recut_min: float = 6.0
    fixture_mount_min: float = 15.0
    clear_min: float = 10.0
    load_min: float = 1.0
    load_clamps_min: float = 4.0
    load_fixture_min: float = 2.0
    deburr_mm_min: float = 600.0
    deburr_each_min: float = 0.5
    inspect_each_min: float = 1.0
    inspect_characteristic_min: float = 0.5
    unit: str = "mm"

    def say(self, length_mm: float) -> str:
        """A length for a sentence, with four figures and its unit."""
        return f"{length_mm / 25.4:.4g} in" if self.unit == "in" else f"{length_mm:.4g} mm"
