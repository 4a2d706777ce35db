// The part: shaded faces, drawn edges, and faces picked out of it.
import { BufferAttribute, BufferGeometry, Group, LineBasicMaterial, LineSegments, Mesh, MeshBasicMaterial, MeshLambertMaterial } from "three";
import { colour } from "../theme.js";

export function segments(starts, points) {
  const pairs = [];
  for (let edge = 0; edge + 1 < starts.length; edge += 1) {
    for (let point = starts[edge]; point + 1 < starts[edge + 1]; point += 1) pairs.push(point, point + 1);
  }
  const geometry = new BufferGeometry();
  geometry.setAttribute("position", new BufferAttribute(points, 3));
  geometry.setIndex(new BufferAttribute(new Uint32Array(pairs), 1));
  return geometry;
}

export function facesOf(mesh, wanted) {
  const corners = [];
  mesh.faces.forEach((face, triangle) => {
    if (wanted.has(face)) corners.push(...mesh.triangles.subarray(3 * triangle, 3 * triangle + 3));
  });
  return new BufferAttribute(new Uint32Array(corners), 1);
}

// Row-major rotation and origin of core.types.Placement: setup point = rotation · part point + origin.
export function place(object, [a, b, c, d, e, f, g, h, i, x, y, z]) {
  object.matrixAutoUpdate = false;
  object.matrix.set(a, b, c, x, d, e, f, y, g, h, i, z, 0, 0, 0, 1);
  object.updateMatrixWorld(true);
}

export class Part {
  constructor(mesh) {
    this.mesh = mesh;
    this.group = new Group();
    const geometry = new BufferGeometry();
    geometry.setAttribute("position", new BufferAttribute(mesh.points, 3));
    geometry.setIndex(new BufferAttribute(mesh.triangles, 1));
    geometry.computeVertexNormals();
    geometry.computeBoundingSphere();
    this.radius = geometry.boundingSphere.radius;
    // Pushed back a little, or the edges that lie on the faces would flicker through them.
    const back = { polygonOffset: true, polygonOffsetFactor: 1, polygonOffsetUnits: 1 };
    this.skin = new MeshLambertMaterial({ color: colour("--part"), ...back });
    this.body = new Mesh(geometry, this.skin);
    this.edges = new LineSegments(segments(mesh.edgeStarts, mesh.edgePoints), new LineBasicMaterial({ color: colour("--ink") }));
    this.picked = new Mesh(new BufferGeometry(), new MeshBasicMaterial({ color: colour("--edge") }));
    this.picked.geometry.setAttribute("position", geometry.getAttribute("position"));
    this.picked.visible = false;
    this.group.add(this.body, this.edges, this.picked);
  }

  pick(faces) {
    this.picked.visible = faces.length > 0;
    this.picked.geometry.setIndex(facesOf(this.mesh, new Set(faces)));
    this.seeThrough(faces.length > 0 || this.isThin);
  }

  seeThrough(isThin) {
    this.skin.transparent = isThin;
    this.skin.opacity = isThin ? 0.35 : 1;
    this.skin.depthWrite = !isThin;
    this.skin.needsUpdate = true;
  }

  thin(isThin) {
    this.isThin = isThin;
    this.seeThrough(isThin);
  }
}
