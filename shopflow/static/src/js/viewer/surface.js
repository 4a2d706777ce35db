// Top and bottom of columns of material as one closed surface, of all of them or of each second or fourth.
import { BufferAttribute, BufferGeometry } from "three";

export class Surface {
  // shape, origin, pitch: of the columns. step: of so many one is drawn, both ways.
  constructor({ shape: [nx, ny], origin: [x0, y0], pitch }, step) {
    this.columns = [nx, ny];
    this.step = step;
    this.nx = Math.ceil(nx / step);
    this.ny = Math.ceil(ny / step);
    this.wide = this.nx + 2;
    this.deep = this.ny + 2;
    this.half = this.wide * this.deep;
    this.full = new Uint8Array(this.half);
    this.isNew = true;
    const points = new Float32Array(6 * this.half);
    // A ring of empty cells around, where top and bottom meet: so the sides are closed. It stands half a cell off, which
    // is where the edge of the material is.
    const along = (cell, count) => Math.min(count - 0.5, Math.max(-0.5, step * (cell - 1)));
    for (let x = 0; x < this.wide; x += 1) {
      for (let y = 0; y < this.deep; y += 1) {
        const at = 3 * (x * this.deep + y);
        points[at] = points[at + 3 * this.half] = x0 + pitch * along(x, nx);
        points[at + 1] = points[at + 1 + 3 * this.half] = y0 + pitch * along(y, ny);
      }
    }
    this.geometry = new BufferGeometry();
    this.geometry.setAttribute("position", new BufferAttribute(points, 3));
    this.geometry.setIndex(new BufferAttribute(new Uint32Array(12 * (this.wide - 1) * (this.deep - 1)), 1));
  }

  // Only what changed goes to the graphics card.
  heights(top, low, floor) {
    const { wide, deep, half } = this;
    const points = this.geometry.getAttribute("position");
    const changed = [[Infinity, -1], [Infinity, -1]];
    let isOther = this.isNew;
    for (let x = 0; x < wide; x += 1) {
      for (let y = 0; y < deep; y += 1) {
        const at = x * deep + y;
        const cell = this.cellAt(x, y);
        const full = cell >= 0 && low[cell] <= top[cell] ? 1 : 0;
        if (full !== this.full[at]) isOther = true;
        this.full[at] = full;
        this.put(points.array, at, Math.fround(full ? top[cell] : floor), changed[0]);
        this.put(points.array, at + half, Math.fround(full ? low[cell] : floor), changed[1]);
      }
    }
    this.upload(points, changed);
    if (isOther) this.index();
    this.isNew = false;
  }

  put(array, at, height, changed) {
    if (array[3 * at + 2] === height) return;
    array[3 * at + 2] = height;
    if (at < changed[0]) changed[0] = at;
    changed[1] = at;
  }

  upload(points, changed) {
    const ranges = changed.filter(([first, last]) => last >= first);
    if (this.isNew) points.needsUpdate = true;
    if (this.isNew || ranges.length === 0) return;
    ranges.forEach(([first, last]) => points.addUpdateRange(3 * first, 3 * (last - first + 1)));
    points.needsUpdate = true;
  }

  cellAt(x, y) {
    if (x < 1 || y < 1 || x > this.nx || y > this.ny) return -1;
    return (x - 1) * this.step * this.columns[1] + (y - 1) * this.step;
  }

  // Squares with no material at any corner are left out: there one looks through.
  index() {
    const { wide, deep, half, full } = this;
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
}
