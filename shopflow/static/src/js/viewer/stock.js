// Stock as it is cut away: one surface whose heights change with every motion, and the tool where the path ends.
import { DoubleSide, Group, LatheGeometry, Mesh, MeshLambertMaterial, Vector2 } from "three";
import { colour } from "../theme.js";
import { Surface } from "./surface.js";

const HOLDER = 2;
const IS_LOW = 0x80000000;
const STEPS = [1, 2, 4]; // by level
const MANY_CELLS = 8000;

// Last place in rising numbers that is not above `value`; -1 where all are.
function lastAt(rising, value) {
  let low = 0;
  let high = rising.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (rising[middle] <= value) low = middle + 1;
    else high = middle;
  }
  return low - 1;
}

function toolBody([bottom, flat, radius, rise, top, part]) {
  const outline = [[0, bottom], [flat, bottom], [radius, bottom + rise], [radius, top], [0, top]];
  const material = new MeshLambertMaterial({ color: colour(part === HOLDER ? "--edge" : "--ink-2"), transparent: true, opacity: 0.55, side: DoubleSide });
  const body = new Mesh(new LatheGeometry(outline.map(([x, y]) => new Vector2(x, y)), 28), material);
  body.rotation.x = Math.PI / 2;
  return body;
}

export class Stock {
  // fetchStretch: number of a state to every change between it and the next (readStretch), or null where they are lost.
  constructor(data, fetchStretch) {
    this.data = data;
    this.fetchStretch = fetchStretch;
    this.stretches = new Map();
    [this.nx, this.ny] = data.shape;
    this.cells = this.nx * this.ny;
    this.top = new Float32Array(this.cells);
    this.low = new Float32Array(this.cells);
    this.frame = -1; // the state that the heights come from
    this.done = 0; // changes made since it
    this.drawn = "";
    this.group = new Group();
    this.surface = new Surface(data, 1);
    this.surfaces = { 1: this.surface };
    this.geometry = this.surface.geometry;
    this.skin = new MeshLambertMaterial({ color: colour("--part"), flatShading: true, side: DoubleSide });
    this.body = new Mesh(this.geometry, this.skin);
    this.body.frustumCulled = false;
    this.tools = new Group();
    this.group.add(this.body, this.tools);
    this.show(Infinity);
  }

  // As after so many motions of the path: exactly, or, until the changes since the last state before it have arrived, as
  // in that state. Gives back how many motions it stands after, and whether more is to come.
  show(motion) {
    const frame = Math.max(0, lastAt(this.data.motion, motion));
    const isBetween = motion > this.data.motion[frame] && frame + 1 < this.data.motion.length;
    const stretch = isBetween ? this.stretch(frame) : null;
    if (stretch?.read && frame + 2 < this.data.motion.length) this.stretch(frame + 1); // for who goes on
    const done = stretch?.read ? lastAt(stretch.read.motion, motion) + 1 : 0;
    if (frame !== this.frame || done < this.done) this.heights(frame);
    for (; this.done < done; this.done += 1) this.change(stretch.read, this.done);
    const isOther = this.drawn !== `${frame} ${done}`;
    this.drawn = `${frame} ${done}`;
    if (isOther) this.rebuild();
    const isExact = !isBetween || Boolean(stretch.read);
    return { motion: isExact ? motion : this.data.motion[frame], coming: isExact || stretch.isLost ? null : stretch.coming };
  }

  stretch(frame) {
    if (!this.stretches.has(frame)) {
      const one = { read: null, isLost: false };
      one.coming = this.fetchStretch(frame).catch(() => null).then((read) => {
        one.read = read;
        one.isLost = !read;
      });
      this.stretches.set(frame, one);
    }
    return this.stretches.get(frame);
  }

  change({ cell, value }, at) {
    if (cell[at] >= IS_LOW) this.low[cell[at] - IS_LOW] = value[at];
    else this.top[cell[at]] = value[at];
  }

  heights(frame) {
    const { begins, cell, top, low } = this.data;
    // Forward from a whole state; otherwise from the beginning.
    const first = frame > this.frame && this.done === 0 ? this.frame + 1 : 0;
    for (let change = begins[first]; change < begins[frame + 1]; change += 1) {
      this.top[cell[change]] = top[change];
      this.low[cell[change]] = low[change];
    }
    this.frame = frame;
    this.done = 0;
  }

  // The surface that is drawn now, as the columns stand.
  rebuild() {
    this.surface.heights(this.top, this.low, this.floor());
    this.surface.stands = this.drawn;
  }

  floor() {
    let floor = Infinity;
    for (let cell = 0; cell < this.cells; cell += 1) if (this.low[cell] <= this.top[cell] && this.low[cell] < floor) floor = this.low[cell];
    return Number.isFinite(floor) ? floor : 0;
  }

  // 0 draws every column; 1 and 2 fewer, where there are many, while something moves.
  level(number) {
    const isLarge = this.cells > MANY_CELLS;
    const step = isLarge ? STEPS[number] : 1;
    const before = this.surface;
    this.surfaces[step] ??= new Surface(this.data, step);
    this.surface = this.surfaces[step];
    if (this.surface === before) return;
    this.group.traverse((one) => one.geometry === before.geometry && (one.geometry = this.surface.geometry));
    if (this.surface.stands !== this.drawn) this.rebuild();
  }

  // The tool with what holds it, its tip at a place.
  stand(tool, place) {
    if (tool !== this.tool) {
      this.tool = tool;
      this.tools.children.forEach((body) => body.geometry.dispose());
      this.tools.clear();
      (this.data.tools[tool] ?? []).forEach((body) => this.tools.add(toolBody(body)));
    }
    this.tools.position.fromArray(place);
  }

  // What a line takes away, or null for a line that moves nothing.
  said(line) {
    const at = this.data.programLine.indexOf(line);
    if (at < 0) return null;
    return Object.fromEntries(["volume", "axial", "radial", "rate", "chip", "power", "bend"].map((name) => [name, this.data[name][at]]));
  }
}
