// Faces picked on the part, and what lies between the last two picks.
import { BufferGeometry, Line, LineBasicMaterial, Vector3 } from "three";
import { colour } from "../theme.js";

const SNAP_PIXELS = 8;
const PARALLEL = 0.99999;

export class Picks {
  constructor(stage, part) {
    this.stage = stage;
    this.part = part;
    this.last = [];
    this.line = new Line(new BufferGeometry(), new LineBasicMaterial({ color: colour("--accent"), depthTest: false }));
    this.line.renderOrder = 4;
    this.line.visible = false;
    part.group.add(this.line);
  }

  // The face under the pointer and the place on it, in the part's own coordinates; corners and edges draw the place on.
  at(event, isCut) {
    const caster = this.stage.raycaster(event);
    const hit = caster.intersectObject(this.part.body, false).find(({ point }) => isCut(point));
    if (!hit) return null;
    const place = this.part.group.worldToLocal(hit.point.clone());
    return { face: this.part.mesh.faces[hit.faceIndex], normal: hit.face.normal.clone(), place: this.snapped(place) };
  }

  snapped(place) {
    const { edgePoints } = this.part.mesh;
    let nearest = (SNAP_PIXELS * this.stage.unitsPerPixel()) ** 2;
    let found = place;
    const corner = new Vector3();
    for (let at = 0; at < edgePoints.length; at += 3) {
      const gap = corner.fromArray(edgePoints, at).distanceToSquared(place);
      if (gap < nearest) [nearest, found] = [gap, corner.clone()];
    }
    return found;
  }

  // What lies between the pick before and this one; null after a first one.
  add(pick) {
    this.last = [...this.last.slice(-1), pick];
    if (this.last.length < 2) return null;
    const [a, b] = this.last;
    this.line.geometry.setFromPoints([a.place, b.place]);
    this.line.visible = true;
    const way = b.place.clone().sub(a.place);
    const cosine = a.normal.dot(b.normal);
    const between = Math.abs(cosine) > PARALLEL && a.face !== b.face ? Math.abs(way.dot(a.normal)) : null;
    const angle = (Math.acos(Math.min(1, Math.max(-1, cosine))) * 180) / Math.PI;
    return { distance: way.length(), way: way.toArray().map(Math.abs), between, angle };
  }

  forget() {
    this.last = [];
    this.line.visible = false;
  }
}
