// The model coloured by how far the stock stands off each of its faces, along the face's normal.
import { BufferAttribute, BufferGeometry, Color, DoubleSide, Group, Mesh, MeshBasicMaterial, MeshLambertMaterial } from "three";
import { colour } from "../theme.js";
import { facesOf } from "./part.js";

export const FULL_MM = 0.5;
const FITS_MM = 0.02; // TOLERANCE_MM of core/stock/compare.py: less is no difference

// Purple where stock is left, white where it fits, orange where the cut went in, grey where nothing was measured.
function colours(deviation) {
  const [white, left, gouge, unknown] = ["--white", "--left", "--gouge", "--edge"].map((name) => new Color(colour(name)));
  const values = new Float32Array(3 * deviation.length);
  const mixed = new Color();
  deviation.forEach((off, at) => {
    const share = Math.min(1, Math.max(0, Math.abs(off) - FITS_MM) / (FULL_MM - FITS_MM));
    // Half the colour at once, or a small gouge would look like none.
    if (Number.isNaN(off)) mixed.copy(unknown);
    else mixed.copy(white).lerp(off > 0 ? left : gouge, share > 0 ? 0.25 + 0.75 * share : 0);
    mixed.toArray(values, 3 * at);
  });
  return new BufferAttribute(values, 3);
}

export class Deviation {
  constructor(data) {
    this.data = data;
    this.mesh = data;
    this.group = new Group();
    const geometry = new BufferGeometry();
    geometry.setAttribute("position", new BufferAttribute(data.points, 3));
    geometry.setAttribute("color", colours(data.deviation));
    geometry.setIndex(new BufferAttribute(data.triangles, 1));
    geometry.computeVertexNormals();
    const back = { polygonOffset: true, polygonOffsetFactor: 1, polygonOffsetUnits: 1 };
    this.body = new Mesh(geometry, new MeshLambertMaterial({ vertexColors: true, side: DoubleSide, ...back }));
    this.picked = new Mesh(new BufferGeometry(), new MeshBasicMaterial({ color: colour("--accent"), transparent: true, opacity: 0.35, side: DoubleSide }));
    this.picked.geometry.setAttribute("position", geometry.getAttribute("position"));
    this.picked.visible = false;
    this.group.add(this.body, this.picked);
    this.group.visible = false;
  }

  // The face under a pointer and what it says: most stock, deepest gouge, mean, mm; null beside the part.
  at(caster, isSeen) {
    const hit = caster.intersectObject(this.body, false).find(({ point }) => isSeen(point));
    const face = hit ? this.data.faces[hit.faceIndex] : null;
    this.picked.visible = Boolean(hit);
    if (!hit) return null;
    this.picked.geometry.setIndex(facesOf(this.data, new Set([face])));
    return { face, numbers: this.data.numbers[face] ?? null };
  }
}
