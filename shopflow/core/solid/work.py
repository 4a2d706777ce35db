"""What a child of the warm parent does: reads one model and leaves the reading and its mesh in files."""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any

from shopflow.core.errors import Unreadable
from shopflow.core.solid import aside, datums, draw_work, notes, text
from shopflow.core.solid.aside import Aside, AsideFailed
from shopflow.core.solid.aspects import Aspects, Counted, face_numbers
from shopflow.core.solid.doubt import unit_doubt
from shopflow.core.solid.features import planes, recognise, unreached, views
from shopflow.core.solid.features.sight import Sight
from shopflow.core.solid.graph import Graph
from shopflow.core.solid.measuring import Measuring, with_areas
from shopflow.core.solid.mesh import Mesh
from shopflow.core.solid.occ import graph as occ_graph
from shopflow.core.solid.occ import load as occ_load
from shopflow.core.solid.occ import measure, pmi
from shopflow.core.solid.occ import mesh as occ_mesh
from shopflow.core.solid.occ.sew import sewn_solids
from shopflow.core.solid.occ.surfaces import FIT_LARGEST_MM, FIT_SHARE
from shopflow.core.solid.reading import Pmi, Reading, SolidFacts, ThinPlace, untangled
from shopflow.core.solid.request import MESH_FILE, READING_FILE, Request
from shopflow.core.solid.sniff import AS_SOLID, EXPORT_AGAIN, MESH_ONLY, names_a_solid
from shopflow.core.solid.warm_up import warm_up

__all__ = ["perform", "warm_up"]

DEFLECTION_SHARE = 1 / 1500
"""Mesh deflection as a share of the box's diagonal; 0.1 mm on a part of 150 mm."""
LEAST_DEFLECTION_MM = 0.002
COARSER = ((1.0, 0.35), (4.0, 0.5), (16.0, 0.8))
"""Deflection factor and angle (radians) of each try at a mesh, each within its time."""

_PLACES_BYTES = 8 << 20

Step = Callable[[str], object]


@dataclass
class Job:
    """One read under way. chosen: numbers of the solids that are looked at closely."""

    request: Request
    loaded: occ_load.Loaded
    chosen: list[int]
    warnings: list[str] = field(default_factory=list)

    @property
    def solids(self) -> list[Any]:
        return [self.loaded.solids[number] for number in self.chosen]


def perform(request: Request, step: Step) -> None:
    """Read the file of the request and write READING_FILE and MESH_FILE into its folder, or the drawings asked for."""
    step("reading")
    data = Path(request.path).read_bytes()
    loaded = occ_load.load(request.path, annotations=request.annotations, step=step)
    warnings = _close(loaded, data)
    job = Job(request, loaded, _choose(request, loaded), warnings)
    if request.views:
        draw_work.perform(request, job.solids, step)
        return
    reading, mesh = _read(job, data, step)
    step("writing")
    out = Path(request.out)
    (out / MESH_FILE).write_bytes(mesh.to_bytes() if mesh else b"")
    (out / READING_FILE).write_text(json.dumps(tidy(reading.to_json()), allow_nan=False))


def _close(loaded: occ_load.Loaded, data: bytes) -> list[str]:
    """Sew loose surfaces to solids when there is no solid; says what was done, or raises Unreadable."""
    if loaded.solids:
        return _leave_meshes_out(loaded)
    if names_a_solid(data):  # sewing what is left of a broken solid would make another part of it
        raise Unreadable("The solid in the STEP file is damaged: its faces could not all be read.", mend=EXPORT_AGAIN)
    loaded.solids, tolerance = sewn_solids(loaded.shape)
    loaded.names = [""] * len(loaded.solids)
    if not loaded.solids:
        raise Unreadable(
            "The STEP file holds surfaces only: there is no solid in it, and the surfaces do not close within "
            f"{tolerance:g} mm.",
            mend=AS_SOLID,
        )
    return [
        f"The file holds surfaces and no solid. They were sewn together within {tolerance:g} mm and close; check the "
        "sizes against the print."
    ]


def _leave_meshes_out(loaded: occ_load.Loaded) -> list[str]:
    """Keep the solids with exact surfaces; says how many were left out, or raises Unreadable when none is left."""
    kept = [number for number, solid in enumerate(loaded.solids) if occ_load.has_exact_faces(solid)]
    left_out = len(loaded.solids) - len(kept)
    if not kept:
        raise Unreadable(MESH_ONLY, mend=AS_SOLID)
    loaded.names = [loaded.names[number] for number in kept]
    loaded.solids = [loaded.solids[number] for number in kept]
    return [f"{left_out} bodies in the file are triangle meshes only and were left out."] if left_out else []


def _choose(request: Request, loaded: occ_load.Loaded) -> list[int]:
    """Numbers of the solids to look at; raises Unreadable when there is nothing exact to look at."""
    if request.solid_index is None:
        return list(range(len(loaded.solids)))
    if not 0 <= request.solid_index < len(loaded.solids):
        raise Unreadable(
            f"There is no solid {request.solid_index} in the file; it holds {len(loaded.solids)}, counted from 0.",
            mend="Choose one of those that the file holds.",
        )
    return [request.solid_index]


def _read(job: Job, data: bytes, step: Step) -> tuple[Reading, Mesh | None]:
    """Measure, mesh and recognise, on two cores: boxes and mesh in helpers, faces and edges here."""
    rough = measure.rough_box(job.loaded.shape)
    diagonal = rough.diagonal if rough else 100.0
    deflection = job.request.deflection_mm or max(diagonal * DEFLECTION_SHARE, LEAST_DEFLECTION_MM)
    step("measuring")
    meshing = _mesh_aside(job, deflection, 0)
    is_close = len(job.solids) <= job.request.limits.solids
    measuring = Measuring(job.loaded.solids, job.loaded.names, job.chosen if is_close else ())
    facts_aside = measuring.start()
    step("recognising")
    closely = job.solids if is_close else []
    graph = occ_graph.build(closely, min(FIT_LARGEST_MM, diagonal * FIT_SHARE), solid_numbers=job.chosen)
    limits, deadline = job.request.limits, time.monotonic() + job.request.limits.wall_s
    measured = measuring.finished(facts_aside, deadline=deadline, limit_bytes=limits.output_bytes)
    facts = with_areas(measured, graph)
    step("meshing")
    mesh, used = _mesh(job, meshing, deflection)
    step("annotations")
    sight = Sight(mesh) if mesh else None
    searching = aside.start(lambda: _looked_at(graph, mesh, sight)) if mesh and sight else None
    annotations = _annotations(job, data)
    features = recognise.everything(graph, sight)
    reading = _assembled(job, text.units(data), text.schema(data), facts, features, annotations, used)
    number, revision = text.product(data)
    reading = replace(reading, part_number=number, part_revision=revision)
    return _with_hard_places(job, reading, searching), mesh


def _looked_at(graph: Graph, mesh: Mesh, sight: Sight) -> bytes:
    """Hard places and what each side sees of each face, as JSON."""
    seen = views.look(mesh, sight, views.slanted_ways(planes.find(graph)))
    return json.dumps({**asdict(recognise.hard_places(graph, sight)), "views": list(seen.items())}).encode()


def _with_hard_places(job: Job, reading: Reading, helper: Aside | None) -> Reading:
    """The reading with thin and unreached places; a sentence in their stead when the search for them fails."""
    if helper is None:
        return reading
    try:
        data = helper.result(deadline=time.monotonic() + job.request.limits.mesh_s, limit_bytes=_PLACES_BYTES)
    except AsideFailed as failure:
        said = f"Thin walls, undercuts and what each side sees could not be looked for ({_why(str(failure))})."
        return replace(reading, warnings=(*reading.warnings, said))
    found = json.loads(data)
    return replace(
        reading,
        faces=views.noted(reading.faces, untangled(dict(found["views"]))),
        thin=tuple(ThinPlace(**place) for place in found["thin"]),
        unreached=unreached.outside_holes(found["unreached"], reading.holes, found["enclosed"]),
    )


def _annotations(job: Job, data: bytes) -> Pmi:
    if job.loaded.document is None:
        return Pmi()
    signed = text.limits_span_nominal(data)
    if not signed:
        job.warnings.append(
            "Some tolerances in the file lie on one side of their nominal and cannot be told from the others here: "
            "take the limits from the print."
        )
    file = Aspects(data)
    numbers = face_numbers(file, _counted(job)) if b"SHAPE_ASPECT" in data else {}
    said = notes.items(file, numbers, is_inch=text.units(data).main == "inch")
    found = pmi.read(job.loaded.document, job.solids, signed_limits=signed, notes=said)
    return datums.completed(found, file, numbers)


def _counted(job: Job) -> list[Counted]:
    firsts = dict(zip(job.chosen, occ_graph.first_faces(job.solids), strict=True))
    return [Counted(occ_graph.face_count(solid), firsts.get(at)) for at, solid in enumerate(job.loaded.solids)]


def _mesh_aside(job: Job, deflection: float, attempt: int) -> Aside:
    factor, angle = COARSER[attempt]
    first = occ_graph.first_faces(job.solids)
    return aside.start(lambda: occ_mesh.tessellate(job.solids, first, deflection * factor, angle).to_bytes())


def _mesh(job: Job, helper: Aside, deflection: float) -> tuple[Mesh | None, float | None]:
    """The mesh and the deflection it was made with; a coarser one when the first takes too long, None at last."""
    limits, how = job.request.limits, ""
    for attempt, (factor, _) in enumerate(COARSER):
        if attempt:
            helper = _mesh_aside(job, deflection, attempt)
        try:
            data = helper.result(deadline=time.monotonic() + limits.mesh_s, limit_bytes=limits.output_bytes)
        except AsideFailed as failure:
            how = str(failure)
            continue
        if attempt:
            made = f"{deflection * factor:.3g} mm"
            job.warnings.append(f"No mesh could be made at {deflection:.3g} mm ({_why(how)}); it is coarser, {made}.")
        return Mesh.from_bytes(data), deflection * factor
    job.warnings.append(
        f"No mesh could be made ({_why(how)}): there is no picture, and what a cutter reaches is not known."
    )
    return None, None


def _why(how: str) -> str:
    return {"time": "it took too long", "size": "it grew too large"}.get(how, "the geometry kernel stopped")


def _assembled(
    job: Job,
    units: text.Units,
    schema: str,
    facts: list[SolidFacts],
    features: recognise.Features,
    annotations: Pmi,
    deflection: float | None,
) -> Reading:
    chosen = [facts[number] for number in job.chosen]
    low = tuple(min(fact.box_min_mm[axis] for fact in chosen) for axis in range(3))
    high = tuple(max(fact.box_min_mm[axis] + fact.bbox_mm[axis] for fact in chosen) for axis in range(3))
    size = (high[0] - low[0], high[1] - low[1], high[2] - low[2])
    reason = unit_doubt(units, size)
    return Reading(
        schema=schema,
        unit=units.main,
        unit_doubtful=bool(reason),
        unit_reason=reason,
        solids=tuple(facts),
        chosen_solid=job.chosen[0] if len(job.chosen) == 1 else None,
        bbox_mm=size,
        box_min_mm=(low[0], low[1], low[2]),
        box_max_mm=(high[0], high[1], high[2]),
        volume_mm3=sum(fact.volume_mm3 for fact in chosen),
        area_mm2=sum(fact.area_mm2 for fact in chosen),
        holes=features.holes,
        patterns=features.patterns,
        planes=features.planes,
        pockets=features.pockets,
        fillets=features.fillets,
        chamfers=features.chamfers,
        sharp_edges=features.sharp_edges,
        bosses=features.bosses,
        faces=features.faces,
        surfaces=features.surfaces,
        pmi=annotations,
        mesh_deflection_mm=deflection,
        warnings=tuple(job.warnings + _remarks(job, facts)),
    )


def _remarks(job: Job, facts: list[SolidFacts]) -> list[str]:
    remarks = []
    if len(facts) > 1 and job.request.solid_index is None:
        remarks.append(f"The file holds {len(facts)} solids. Choose the one to make; the figures are for all of them.")
    if len(job.chosen) > job.request.limits.solids:
        remarks.append("There are too many solids to look for features in all of them: choose one.")
    inside_out = [facts[number].name for number in job.chosen if facts[number].volume_mm3 < 0]
    if inside_out:
        named = ", ".join(inside_out[:5])
        remarks.append(
            f"Turned inside out: {named}. Holes and studs may be taken for each other; ask for a new export."
        )
    faulty = [fact.name for fact in facts if not fact.valid]
    if faulty:
        remarks.append(
            f"The library's check finds faults in: {', '.join(faulty[:5])}. Check the sizes against the print."
        )
    return remarks


def tidy(value: Any) -> Any:
    """Numbers rounded to a millionth, without a minus before zero."""
    if isinstance(value, float):
        return round(value, 6) + 0.0
    if isinstance(value, dict):
        return {name: tidy(item) for name, item in value.items()}
    if isinstance(value, list | tuple):
        return [tidy(item) for item in value]
    return value
