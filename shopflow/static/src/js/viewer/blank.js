// The blank as the edges of its box, of the round in that box, or of the model that it is, in the part's coordinates.
import { BufferAttribute, BufferGeometry, LineBasicMaterial, LineSegments } from "three";
import { colour } from "../theme.js";
import { segments } from "./part.js";

const EDGES = [0, 1, 1, 3, 3, 2, 2, 0, 4, 5, 5, 7, 7, 6, 6, 4, 0, 4, 1, 5, 2, 6, 3, 7];

export function blankEdges([ax, ay, az, bx, by, bz]) {
  const corners = new Float32Array(24);
  for (let corner = 0; corner < 8; corner += 1) corners.set([corner & 1 ? bx : ax, corner & 2 ? by : ay, corner & 4 ? bz : az], 3 * corner);
  const geometry = new BufferGeometry();
  geometry.setAttribute("position", new BufferAttribute(corners, 3));
  geometry.setIndex(EDGES);
  return drawn(geometry);
}

const STEPS = 96;

// axis: 0 X to 2 Z, along which the round lies in its box: two circles, and four lines that join them.
export function roundEdges(box, axis) {
  const low = box.slice(0, 3);
  const high = box.slice(3);
  const [first, second] = [0, 1, 2].filter((one) => one !== axis);
  const middle = [(low[first] + high[first]) / 2, (low[second] + high[second]) / 2];
  const radius = Math.min(high[first] - low[first], high[second] - low[second]) / 2;
  const points = [];
  const pairs = [];
  for (let step = 0; step < STEPS; step += 1) {
    const angle = (2 * Math.PI * step) / STEPS;
    for (const [end, at] of [low[axis], high[axis]].entries()) {
      const point = [0, 0, 0];
      point[axis] = at;
      point[first] = middle[0] + radius * Math.cos(angle);
      point[second] = middle[1] + radius * Math.sin(angle);
      points.push(...point);
      pairs.push(2 * step + end, 2 * ((step + 1) % STEPS) + end);
    }
    if (step % (STEPS / 4) === 0) pairs.push(2 * step, 2 * step + 1);
  }
  const geometry = new BufferGeometry();
  geometry.setAttribute("position", new BufferAttribute(new Float32Array(points), 3));
  geometry.setIndex(pairs);
  return drawn(geometry);
}

export function modelEdges(mesh) {
  return drawn(segments(mesh.edgeStarts, mesh.edgePoints));
}

function drawn(geometry) {
  return new LineSegments(geometry, new LineBasicMaterial({ color: colour("--accent") }));
}
