// Stock as it is cut away: one surface whose heights change with every motion, and the tool where the path ends.
import {
  BufferAttribute, BufferGeometry, DoubleSide, Group, LatheGeometry, Mesh, MeshLambertMaterial, Vector2,
} from "three";
import { colour } from "../theme.js";

const HOLDER = 2;
const IS_LOW = 0x80000000;

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
    this.geometry = this.surface();
    this.skin = new MeshLambertMaterial({ color: colour("--part"), flatShading: true, side: DoubleSide });
    this.body = new Mesh(this.geometry, this.skin);
    this.body.frustumCulled = false;
    this.tools = new Group();
    this.group.add(this.body, this.tools);
    this.show(Infinity);
  }

  // Top and bottom, each with a ring of empty cells around, where they meet: so the sides are closed.
  surface() {
    const wide = this.nx + 2;
    const deep = this.ny + 2;
    this.wide = wide;
    this.deep = deep;
    const [x0, y0] = this.data.origin;
    const { pitch } = this.data;
    const points = new Float32Array(6 * wide * deep);
    const half = wide * deep;
    for (let x = 0; x < wide; x += 1) {
      for (let y = 0; y < deep; y += 1) {
        const at = 3 * (x * deep + y);
        // The ring stands half a cell off, which is where the edge of the material is.
        points[at] = points[at + 3 * half] = x0 + pitch * Math.min(this.nx - 0.5, Math.max(-0.5, x - 1));
        points[at + 1] = points[at + 1 + 3 * half] = y0 + pitch * Math.min(this.ny - 0.5, Math.max(-0.5, y - 1));
      }
    }
    const geometry = new BufferGeometry();
    geometry.setAttribute("position", new BufferAttribute(points, 3));
    geometry.setIndex(new BufferAttribute(new Uint32Array(12 * (wide - 1) * (deep - 1)), 1));
    return geometry;
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
    if (this.drawn !== `${frame} ${done}`) this.rebuild();
    this.drawn = `${frame} ${done}`;
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

  rebuild() {
    const { wide, deep } = this;
    const half = wide * deep;
    const points = this.geometry.getAttribute("position");
    const full = new Uint8Array(half);
    const floor = this.floor();
    for (let x = 0; x < wide; x += 1) {
      for (let y = 0; y < deep; y += 1) {
        const at = x * deep + y;
        const cell = this.cellAt(x, y);
        full[at] = cell >= 0 && this.low[cell] <= this.top[cell] ? 1 : 0;
        points.array[3 * at + 2] = full[at] ? this.top[cell] : floor;
        points.array[3 * (at + half) + 2] = full[at] ? this.low[cell] : floor;
      }
    }
    points.needsUpdate = true;
    this.index(full);
  }

  cellAt(x, y) {
    return x > 0 && y > 0 && x <= this.nx && y <= this.ny ? (x - 1) * this.ny + y - 1 : -1;
  }

  floor() {
    let floor = Infinity;
    for (let cell = 0; cell < this.cells; cell += 1) if (this.low[cell] <= this.top[cell] && this.low[cell] < floor) floor = this.low[cell];
    return Number.isFinite(floor) ? floor : 0;
  }

  // Squares with no material at any corner are left out: there one looks through.
  index(full) {
    const { wide, deep } = this;
    const half = wide * deep;
    const index = this.geometry.getIndex();
    let at = 0;
    for (let x = 0; x + 1 < wide; x += 1) {
      for (let y = 0; y + 1 < deep; y += 1) {
        const [a, b, c, d] = [x * deep + y, (x + 1) * deep + y, (x + 1) * deep + y + 1, x * deep + y + 1];
        if (!(full[a] | full[b] | full[c] | full[d])) continue;
        index.array.set([a, b, c, a, c, d, a + half, c + half, b + half, a + half, d + half, c + half], at);
        at += 12;
      }
    }
    index.needsUpdate = true;
    this.geometry.setDrawRange(0, at);
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
