// Tool paths: feeds as solid lines, rapids dashed, the motions of one program line thick.
import {
  BufferAttribute, BufferGeometry, CanvasTexture, Color, Group, LineBasicMaterial, LineDashedMaterial, LineSegments, Sprite, SpriteMaterial,
} from "three";
import { LineMaterial } from "three/addons/lines/LineMaterial.js";
import { LineSegments2 } from "three/addons/lines/LineSegments2.js";
import { LineSegmentsGeometry } from "three/addons/lines/LineSegmentsGeometry.js";
import { colour } from "../theme.js";

const RAPID = 0;
const ARC = 2;
const MOST_SEGMENTS = [Infinity, 20000, 5000]; // by level

export function toolsOf(paths) {
  return [...new Set(paths.tool)];
}

export function toolColour(order) {
  return colour(`--tool-${order % 6}`);
}

// What a motion does, by which the path can be coloured instead: 2 is an arc (core.types.MotionKind).
const KINDS = { feed: "--tool-0", down: "--tool-1", arc: "--tool-2" };

export function kindColour(name) {
  return colour(KINDS[name]);
}

function kindOf({ kind, starts, points }, motion) {
  if (kind[motion] === ARC) return "arc";
  const [first, last] = [3 * starts[motion], 3 * (starts[motion + 1] - 1)];
  const isDown = points[last + 2] < points[first + 2] && Math.hypot(points[last] - points[first], points[last + 1] - points[first + 1]) < 1e-3;
  return isDown ? "down" : "feed";
}

// Each motion is a polyline of `starts[i]` to `starts[i + 1]`; segments remember which motion they belong to.
function collect(paths, isWanted) {
  const count = paths.line.length;
  let total = 0;
  for (let i = 0; i < count; i += 1) if (isWanted(i)) total += Math.max(0, paths.starts[i + 1] - paths.starts[i] - 1);
  const positions = new Float32Array(6 * total);
  const motions = new Uint32Array(total);
  let at = 0;
  for (let i = 0; i < count; i += 1) {
    if (!isWanted(i)) continue;
    for (let point = paths.starts[i]; point + 1 < paths.starts[i + 1]; point += 1) {
      positions.set(paths.points.subarray(3 * point, 3 * point + 6), 6 * at);
      motions[at] = i;
      at += 1;
    }
  }
  return { positions, motions };
}

// colourOf: the colour of a motion.
function colours(motions, colourOf) {
  const values = new Float32Array(6 * motions.length);
  motions.forEach((motion, segment) => {
    const { r, g, b } = colourOf(motion);
    values.set([r, g, b, r, g, b], 6 * segment);
  });
  return new BufferAttribute(values, 3);
}

function lines(found, material) {
  const geometry = new BufferGeometry();
  geometry.setAttribute("position", new BufferAttribute(found.positions, 3));
  const made = new LineSegments(geometry, material);
  made.userData.motions = found.motions;
  return made;
}

// First segment whose motion is not below `motion`: segments are in the order of the program.
function firstAt(motions, motion) {
  let low = 0;
  let high = motions.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (motions[middle] < motion) low = middle + 1;
    else high = middle;
  }
  return low;
}

// Fewer segments of the same way: of so many that follow one another one, from the first one's start to the last one's end.
// It belongs to the last one's motion.
function fewer({ positions, motions }, most) {
  const together = Math.ceil(motions.length / most);
  const found = new Float32Array(positions.length);
  const last = new Uint32Array(motions.length);
  let at = -1;
  let count = together;
  for (let segment = 0; segment < motions.length; segment += 1) {
    const from = 6 * segment;
    const goesOn = segment > 0 && [0, 1, 2].every((axis) => positions[from + axis] === positions[from - 3 + axis]);
    if (!goesOn || count >= together) {
      at += 1;
      count = 0;
      found.set(positions.subarray(from, from + 3), 6 * at);
    }
    found.set(positions.subarray(from + 3, from + 6), 6 * at + 3);
    last[at] = motions[segment];
    count += 1;
  }
  return { positions: found.slice(0, 6 * (at + 1)), motions: last.slice(0, at + 1) };
}

// A ring where the tool stands after the chosen line: also for a line that is too short to see.
function ring() {
  const canvas = document.createElement("canvas");
  canvas.width = canvas.height = 64;
  const pen = canvas.getContext("2d");
  for (const [style, width] of [[colour("--white"), 14], [colour("--accent"), 7]]) {
    pen.strokeStyle = style;
    pen.lineWidth = width;
    pen.beginPath();
    pen.arc(32, 32, 22, 0, 2 * Math.PI);
    pen.stroke();
  }
  const marker = new Sprite(new SpriteMaterial({ map: new CanvasTexture(canvas), depthTest: false }));
  marker.visible = false;
  marker.renderOrder = 4;
  return marker;
}

export class Paths {
  constructor(paths, size) {
    this.paths = paths;
    this.group = new Group();
    this.found = collect(paths, (i) => paths.kind[i] !== RAPID);
    this.feeds = lines(this.found, new LineBasicMaterial({ vertexColors: true }));
    this.levels = [this.feeds];
    this.colourBy(false);
    const dashes = { color: colour("--edge"), dashSize: size / 90, gapSize: size / 90 };
    this.rapids = lines(collect(paths, (i) => paths.kind[i] === RAPID), new LineDashedMaterial(dashes));
    this.rapids.computeLineDistances();
    this.chosen = new LineSegments2(new LineSegmentsGeometry(), new LineMaterial({ color: colour("--ink"), linewidth: 4, depthTest: false, transparent: true }));
    this.chosen.visible = false;
    this.chosen.renderOrder = 2;
    this.marker = ring();
    this.group.add(this.rapids, this.feeds, this.chosen, this.marker);
  }

  // By what kind of motion, or by tool.
  colourBy(isKind) {
    const tools = new Map(toolsOf(this.paths).map((tool, index) => [tool, new Color(toolColour(index))]));
    const kinds = new Map(Object.keys(KINDS).map((name) => [name, new Color(kindColour(name))]));
    const of = isKind ? (motion) => kinds.get(kindOf(this.paths, motion)) : (motion) => tools.get(this.paths.tool[motion]);
    this.colourOf = of;
    this.levels.forEach((drawn) => drawn.geometry.setAttribute("color", colours(drawn.userData.motions, of)));
  }

  // 0 draws every motion at feed; 1 and 2 fewer segments, where there are many, while something moves.
  level(number) {
    this.at = this.found.motions.length > MOST_SEGMENTS[1] ? number : 0;
    if (!this.levels[this.at]) {
      const drawn = lines(fewer(this.found, MOST_SEGMENTS[this.at]), this.feeds.material);
      drawn.geometry.setAttribute("color", colours(drawn.userData.motions, this.colourOf));
      drawn.raycast = () => {};
      this.levels[this.at] = drawn;
      this.group.add(drawn);
    }
    this.levels.forEach((drawn, at) => (drawn.visible = at === this.at));
    this.showUntil(this.until);
  }

  choose(line) {
    const { positions } = collect(this.paths, (i) => this.paths.line[i] === line);
    this.mark(this.paths.line.lastIndexOf(line));
    this.chosen.visible = positions.length > 0;
    if (!this.chosen.visible) return;
    this.chosen.geometry.dispose();
    this.chosen.geometry = new LineSegmentsGeometry();
    this.chosen.geometry.setPositions(positions);
  }

  mark(motion) {
    this.marker.visible = motion >= 0;
    if (this.marker.visible) this.marker.position.fromArray(this.paths.points, 3 * (this.paths.starts[motion + 1] - 1));
  }

  showUntil(motion) {
    this.until = motion;
    for (const drawn of [this.levels[this.at ?? 0], this.rapids]) drawn.geometry.setDrawRange(0, 2 * firstAt(drawn.userData.motions, motion));
  }

  lineAt(raycaster) {
    const [hit] = raycaster.intersectObjects([this.feeds, this.rapids].filter((drawn) => drawn.visible), false);
    return hit ? this.paths.line[hit.object.userData.motions[Math.floor(hit.index / 2)]] : null;
  }
}
