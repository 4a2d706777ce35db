// The blank as the edges of its box, in the part's coordinates: lowest and highest corner.
import { BufferAttribute, BufferGeometry, LineBasicMaterial, LineSegments } from "three";
import { colour } from "../theme.js";

const EDGES = [0, 1, 1, 3, 3, 2, 2, 0, 4, 5, 5, 7, 7, 6, 6, 4, 0, 4, 1, 5, 2, 6, 3, 7];

export function blankEdges([ax, ay, az, bx, by, bz]) {
  const corners = new Float32Array(24);
  for (let corner = 0; corner < 8; corner += 1) corners.set([corner & 1 ? bx : ax, corner & 2 ? by : ay, corner & 4 ? bz : az], 3 * corner);
  const geometry = new BufferGeometry();
  geometry.setAttribute("position", new BufferAttribute(corners, 3));
  geometry.setIndex(EDGES);
  return new LineSegments(geometry, new LineBasicMaterial({ color: colour("--accent") }));
}
