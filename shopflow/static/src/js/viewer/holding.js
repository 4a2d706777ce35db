// What holds the part, as simple as the plan has it: boxes from the part zero, quiet behind the work.
import { BoxGeometry, EdgesGeometry, Group, LineBasicMaterial, LineSegments, Mesh, MeshLambertMaterial } from "three";
import { colour } from "../theme.js";

// boxes: each a name, lowest and highest corner. room: drawn no further than so far from the middle of the work, since a
// table reaches far beyond the picture.
export function holding(boxes, middle, room) {
  const group = new Group();
  const skin = new MeshLambertMaterial({ color: colour("--edge"), transparent: true, opacity: 0.5 });
  const line = new LineBasicMaterial({ color: colour("--ink-2") });
  for (const [, ...corners] of boxes) {
    const low = corners.slice(0, 3).map((at, axis) => Math.max(at, middle[axis] - room));
    const high = corners.slice(3).map((at, axis) => Math.min(at, middle[axis] + room));
    const size = high.map((at, axis) => at - low[axis]);
    if (size.some((one) => one <= 0)) continue;
    const geometry = new BoxGeometry(...size);
    const box = new Group();
    box.add(new Mesh(geometry, skin), new LineSegments(new EdgesGeometry(geometry), line));
    box.position.set(...low.map((at, axis) => at + size[axis] / 2));
    group.add(box);
  }
  return group;
}
