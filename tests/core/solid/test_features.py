"""Recall and precision of feature recognition over parts built from exact dimensions: both have to be 1.00."""

import random
import sys
from collections import Counter

import pytest

from shopflow.core.solid.features import recognise, unreached
from shopflow.core.solid.features.sight import Sight
from shopflow.core.solid.occ import graph as occ_graph
from shopflow.core.solid.occ import mesh as occ_mesh
from tests.core.solid import catalogue, parts

PARTS = catalogue.everything()
APART_MM = 400.0


def skew(name):
    """An axis, an angle and a move that leave nothing square to anything, others for each name."""
    dice = random.Random(name)
    axis = [dice.choice((-1, 1)) * dice.uniform(0.2, 1) for _ in range(3)]
    return axis, dice.uniform(15, 165), [dice.uniform(-150, 150) for _ in range(3)]


def near(value):
    return None if value is None else round(value + 0.0, 2)


def pair(size, other):
    return None if size is None else (near(size), near(other))


def hole_facts(hole):
    return (
        near(hole.diameter_mm),
        near(hole.depth_mm),
        hole.bottom,
        near(hole.point_angle_deg),
        pair(hole.countersink_mm, hole.countersink_angle_deg),
        pair(hole.counterbore_mm, hole.counterbore_depth_mm),
        pair(hole.far_countersink_mm, hole.far_countersink_angle_deg),
        pair(hole.far_counterbore_mm, hole.far_counterbore_depth_mm),
        len(hole.reach),
    )


def found_in(features):
    """All features as counted tuples."""
    return Counter(
        [("hole", *hole_facts(hole)) for hole in features.holes]
        + [
            ("pocket", p.kind, near(p.depth_mm), near(p.width_mm), near(p.length_mm), near(p.radius_mm))
            + (near(p.floor_radius_mm), p.sharp_corners)
            for p in features.pockets
        ]
        + [("chamfer", near(c.size_mm), near(c.other_size_mm), near(c.angle_deg)) for c in features.chamfers]
        + [("fillet", near(f.radius_mm), f.inside) for f in features.fillets]
        + [("boss", near(b.diameter_mm), near(b.height_mm)) for b in features.bosses]
        + [("pattern", p.kind, len(p.holes)) for p in features.patterns]
    )


def built_into(part):
    return Counter(
        [
            ("hole", near(h.diameter), near(h.depth), h.bottom, near(h.point))
            + tuple(pair(*(both or (None, None))) for both in (h.sink, h.bore, h.far_sink, h.far_bore))
            + (h.reach,)
            for h in part.holes
        ]
        + [
            (
                "pocket",
                p.kind,
                near(p.depth),
                near(p.width),
                near(p.length),
                near(p.radius),
                near(p.floor_radius),
                p.sharp,
            )
            for p in part.pockets
        ]
        + [("chamfer", near(c.size), near(c.other), near(c.angle)) for c in part.chamfers]
        + [("fillet", near(f.radius), f.inside) for f in part.fillets]
        + [("boss", near(diameter), near(height)) for diameter, height in part.bosses]
        + [("pattern", *pattern) for pattern in part.patterns]
    )


def recognised(shape):
    mesh = occ_mesh.tessellate([shape], [0], 0.05)
    return recognise.everything(occ_graph.build([shape], 1e-3), Sight(mesh))


def test_there_are_at_least_forty_parts():
    assert len(PARTS) >= 40


@pytest.mark.parametrize("part", PARTS, ids=lambda part: part.name)
def test_every_feature_is_found_and_none_invented(part):
    assert found_in(recognised(part.shape)) == built_into(part)


@pytest.mark.parametrize("part", PARTS, ids=lambda part: part.name)
def test_a_turned_and_moved_part_has_the_same_features(part):
    assert found_in(recognised(parts.turned(part.shape, *skew(part.name)))) == built_into(part)


@pytest.mark.parametrize(("unit", "chosen"), [("MM", PARTS[::2]), ("INCH", PARTS[1::2])])
def test_features_survive_a_step_file_in_either_unit(read_shape, unit, chosen):
    """As the solids of one file, each turned another way, too far apart to stand in one another's light."""
    placed = [
        parts.turned(parts.turned(part.shape, *skew(f"{part.name} {unit}")), (0, 0, 1), 0, _spot(place))
        for place, part in enumerate(chosen)
    ]
    reading = read_shape(parts.together(*placed), unit, deflection_mm=0.1)
    assert reading.unit == {"MM": "millimetre", "INCH": "inch"}[unit]
    assert found_in(reading) == sum(map(built_into, chosen), Counter())


def _spot(place):
    """On a bent line through space."""
    return place * APART_MM, place**1.7 * APART_MM, place**2 * 0.3 * APART_MM


def hard_places_of(shape):
    """Thicknesses of thin places, and how many faces no setup sees."""
    mesh, graph = occ_mesh.tessellate([shape], [0], 0.05), occ_graph.build([shape], 1e-3)
    sight = Sight(mesh)
    hard, found = recognise.hard_places(graph, sight), recognise.everything(graph, sight)
    hidden = unreached.outside_holes(hard.unreached, found.holes, hard.enclosed)
    return sorted(near(place.thickness_mm) for place in hard.thin), len(hidden)


@pytest.mark.parametrize("part", PARTS, ids=lambda part: part.name)
def test_thin_walls_and_undercuts_are_found_and_none_invented(part):
    assert hard_places_of(part.shape) == (sorted(part.thin), part.hidden)


def test_recall_and_precision_over_all_parts(capsys):
    found, built, right = Counter(), Counter(), Counter()
    for part in PARTS:
        seen, wanted = found_in(recognised(part.shape)), built_into(part)
        for kind in ("hole", "pocket", "chamfer", "fillet", "boss", "pattern"):
            found[kind] += sum(n for key, n in seen.items() if key[0] == kind)
            built[kind] += sum(n for key, n in wanted.items() if key[0] == kind)
            right[kind] += sum(n for key, n in (seen & wanted).items() if key[0] == kind)
    shares = {kind: (right[kind] / built[kind], right[kind] / found[kind]) for kind in built}
    said = "; ".join(
        f"{kind}{'es' if kind == 'boss' else 's'} recall {recall:.2f}, precision {precise:.2f}"
        for kind, (recall, precise) in shares.items()
    )
    with capsys.disabled():
        sys.stdout.write(f"\n{len(PARTS)} parts: {said}\n")
    assert right == built == found
