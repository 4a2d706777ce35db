// The part, and the tool paths over it. Everything that is said stands in the fragment _viewer.html; what is picked
// here is told as "shopflow:line", and the rows that name faces (data-faces) pick them out when pointed at.
import { Box3, Sphere } from "three";
import { blankEdges, modelEdges, roundEdges } from "./viewer/blank.js";
import { fetchBytes, readDeviation, readMesh, readPaths, readStock, readStretch } from "./viewer/bytes.js";
import { Deviation, FULL_MM } from "./viewer/deviation.js";
import { holding } from "./viewer/holding.js";
import { marked } from "./viewer/marks.js";
import { Picks } from "./viewer/measure.js";
import { Part, place } from "./viewer/part.js";
import { Section } from "./viewer/section.js";
import { Paths, kindColour, toolColour, toolsOf } from "./viewer/paths.js";
import { Scrub } from "./viewer/scrub.js";
import { Stock } from "./viewer/stock.js";
import { Stage } from "./viewer/scene.js";
import { numbersReady } from "./theme.js";

const CLICK_PIXELS = 4;
const MARKER_PIXELS = 22;

// Words with each # in turn replaced.
function filled(words, values) {
  return values.reduce((text, value) => text.replace("#", value), words);
}

function numbers(text) {
  return text ? text.trim().split(/[\s,]+/).map(Number) : null;
}

// Lowest and highest corner as drawn, mm, for whoever checks that two things lie in one system of coordinates.
function corners(object) {
  const { min, max } = new Box3().expandByObject(object);
  return [min, max].flatMap((corner) => corner.toArray()).map((value) => value.toFixed(3)).join(" ");
}

class Viewer {
  constructor(element) {
    this.element = element;
    this.says = element.querySelector(".viewer-says");
    this.words = element.dataset;
  }

  // Without a picture the frame shrinks to the words.
  sayNoPicture(text) {
    this.stage?.canvas.remove();
    this.element.classList.add("viewer-empty");
    this.say(text);
  }

  say(text) {
    this.says.textContent = text;
    this.says.hidden = !text;
  }

  async open() {
    this.say(this.words.loading);
    try {
      this.stage = new Stage(this.element.querySelector(".viewer-stage"), this.words.label);
    } catch {
      return this.sayNoPicture(this.words.noWebgl);
    }
    try {
      await this.load();
    } catch (error) {
      this.sayNoPicture(`${this.words.failed} (${error.message})`);
    }
  }

  async fetch(url, read) {
    if (!url) return null;
    const buffer = await fetchBytes(url, (share) => this.say(`${this.words.loading} ${share} %`));
    return buffer && read(buffer);
  }

  async load() {
    const mesh = await this.fetch(this.words.meshUrl, readMesh);
    const oldMesh = await this.fetch(this.words.oldMeshUrl, readMesh);
    const blankMesh = await this.fetch(this.words.blankMeshUrl, readMesh);
    const paths = await this.fetch(this.words.pathsUrl, readPaths);
    const stock = await this.fetch(this.words.stockUrl, readStock);
    await numbersReady();
    if (!mesh && !paths) return this.sayNoPicture(this.words.nothing);
    this.say("");
    this.showPart(mesh);
    this.showMarks(oldMesh);
    this.showBlank(mesh || this.words.placement, blankMesh);
    this.stage.measure([this.part?.group, this.blank].filter(Boolean));
    this.showStock(stock);
    this.showPaths(paths);
    this.stage.markZero();
    this.wire();
    this.stage.resize();
    this.stage.look("iso");
    this.element.dataset.ready = "yes";
  }

  showPart(mesh) {
    if (!mesh) return;
    this.part = new Part(mesh);
    this.add(this.part.group, "partBox");
  }

  // Two models of a part: coloured and lettered where they differ, what is gone from the older one.
  showMarks(oldMesh) {
    const buttons = [...this.element.querySelectorAll("button[data-mark]")];
    if (!this.part || buttons.length === 0) return;
    if (oldMesh) {
      this.old = new Part(oldMesh);
      this.old.body.visible = this.old.edges.visible = false;
      this.old.group.position.fromArray(numbers(this.words.oldShift) || [0, 0, 0]);
      this.add(this.old.group, "oldBox");
    }
    this.part.thin(true);
    for (const button of buttons) {
      const { markFaces, markOldFaces } = button.dataset;
      const shown = [];
      if (markFaces) shown.push(this.mark(button, this.part, markFaces, false));
      if (markOldFaces && this.old) shown.push(this.mark(button, this.old, markOldFaces, true));
      button.addEventListener("click", () => {
        const isOn = button.getAttribute("aria-pressed") !== "true";
        button.setAttribute("aria-pressed", isOn);
        shown.forEach((group) => (group.visible = isOn));
        this.stage.draw();
      });
    }
  }

  mark(button, part, faces, isThrough) {
    const group = marked(button, part, numbers(faces), this.stage, isThrough);
    part.group.add(group);
    return group;
  }

  showBlank(isWanted, model) {
    const box = numbers(this.words.blank);
    if (!box || !isWanted) return;
    const { blankRound } = this.words;
    if (model) this.blank = modelEdges(model);
    else this.blank = blankRound ? roundEdges(box, Number(blankRound)) : blankEdges(box);
    this.add(this.blank, "blankBox");
  }

  // In the setup's own coordinates, as the paths are.
  showStock(stock) {
    if (!stock) return;
    this.stock = new Stock(stock, (number) => fetchBytes(`${this.words.stockUrl}${number}/`, () => {}).then((buffer) => buffer && readStretch(buffer)));
    this.deviates = stock.deviates;
    this.stage.add(this.stock.group);
    this.stage.levels.add(this.stock);
    if (stock.holding.length > 0) {
      const { center, radius } = new Box3().expandByObject(this.stock.body).getBoundingSphere(new Sphere());
      this.holding = holding(stock.holding, center.toArray(), 1.6 * radius);
      this.stage.add(this.holding);
      this.words.holdingBox = corners(this.holding);
    }
    this.element.querySelectorAll("[data-full]").forEach((one) => (one.textContent = this.length(FULL_MM)));
    this.show("part", false);
  }

  // A thing of the picture and its button.
  show(name, isOn) {
    const shown = { part: this.part?.group, stock: this.stock?.group, deviation: this.deviation?.group }[name];
    if (shown) shown.visible = isOn;
    this.element.querySelector(`[data-toggle=${name}]`)?.setAttribute("aria-pressed", isOn);
  }

  // Stock and tool as they are after so many motions of the path.
  cutUntil(motion) {
    const { paths } = this.paths;
    const at = Math.max(0, Math.min(motion, paths.line.length) - 1);
    const end = 3 * (paths.starts[at + 1] - 1);
    const shown = this.stock.show(motion);
    this.stock.stand(paths.tool[at], paths.points.subarray(end, end + 3));
    const says = this.element.querySelector("[data-cut-says]");
    const cut = this.stock.said(paths.line[at]);
    const numbers = cut && cut.volume > 0 ? [this.volume(cut.volume), this.length(cut.axial), this.length(cut.radial)] : null;
    const after = paths.line[Math.max(0, shown.motion - 1)];
    const words = shown.motion === motion ? this.words.stockAfter : this.words.stockNear;
    says.textContent = words.replace("#", after) + (numbers ? ` ${filled(this.words.lineCuts, numbers)} ${this.loads(cut)}` : "");
    this.words.stockLine = after;
    this.words.stockExact = shown.motion === motion ? "yes" : "";
    this.wanted = motion;
    shown.coming?.then(() => {
      if (this.wanted !== motion) return;
      this.cutUntil(motion);
      this.stage.draw();
    });
  }

  // What the line asks of tool and spindle at the most; nothing where it only moves, or where the material is not known.
  loads(cut) {
    if (!(cut.rate > 0)) return "";
    const { units, lineLoads, linePower } = this.words;
    const rate = units === "in" ? `${(cut.rate / 16.387064).toFixed(2)} in³/min` : `${cut.rate.toFixed(1)} cm³/min`;
    const known = cut.power > 0 ? filled(linePower, [`${cut.power.toFixed(2)} kW`, this.fine(cut.bend)]) : "";
    return `${filled(lineLoads, [rate, this.fine(cut.chip)])} ${known}`.trim();
  }

  fine(length) {
    return this.words.units === "in" ? `${(length / 25.4).toFixed(4)} in` : `${length.toFixed(3)} mm`;
  }

  volume(cubic) {
    return this.words.units === "in" ? `${(cubic / 16387.064).toFixed(4)} in³` : `${cubic.toFixed(1)} mm³`;
  }

  // The model in the colours of the deviation, in place of the stock; fetched when it is first asked for.
  async colourFaces(isOn) {
    this.show("stock", !isOn);
    if (isOn && !this.deviation) {
      const data = await this.fetch(this.words.deviationUrl, readDeviation);
      this.say("");
      if (!data) {
        this.tell(this.words.deviationLost);
        this.show("stock", true);
        return this.show("deviation", false);
      }
      this.deviation = new Deviation(data);
      this.add(this.deviation.group, "deviationBox");
      this.section?.cap.count(this.deviation.body.geometry, this.deviation.group);
    }
    if (this.deviation) this.deviation.group.visible = isOn;
    if (isOn) this.show("part", false);
    this.isColoured = isOn;
    this.tell(isOn ? this.words.pickFace : "");
    if (this.section?.isOn) this.cut(true);
    this.stage.draw();
  }

  pickDeviation(event) {
    const found = this.deviation.at(this.stage.raycaster(event), (point) => this.isSeen(point));
    this.stage.draw();
    this.words.picked = found ? found.face : "";
    if (!found) return this.tell(this.words.pickFace);
    if (!found.numbers) return this.tell(this.words.faceUnmeasured.replace("#", found.face + 1));
    const [most, deepest, mean] = found.numbers;
    this.tell([found.face + 1, this.length(most), this.length(deepest), this.length(mean)].reduce((text, value) => text.replace("#", value), this.words.faceSays));
  }

  isSeen(point) {
    return !this.section?.isOn || this.section.plane.distanceToPoint(point) >= -1e-6;
  }

  // What is known in the part's coordinates goes where the setup has the part.
  add(object, name) {
    const placement = numbers(this.words.placement);
    if (placement) place(object, placement);
    this.stage.add(object);
    this.words[name] = corners(object);
  }

  showPaths(paths) {
    if (!paths) return;
    this.paths = new Paths(paths, 2 * this.stage.sphere.radius);
    this.stage.add(this.paths.group);
    this.stage.levels.add(this.paths);
    this.stage.keepSize(this.paths.marker, MARKER_PIXELS);
    this.words.pathBox = corners(this.paths.feeds);
    // The part sets the scale; without one the cuts do. Rapids may go far away, to a tool change.
    if (!this.part && !this.blank) this.stage.measure([this.paths.feeds]);
    this.part?.thin(true);
    this.listTools(toolsOf(paths));
    this.scrub(paths);
  }

  wire() {
    const bar = this.element.querySelector(".viewer-bar");
    bar.hidden = false;
    bar.addEventListener("click", (event) => this.press(event.target.closest("button")));
    this.element.querySelectorAll("[data-needs]").forEach((wanting) => {
      wanting.hidden = !wanting.dataset.needs.split(" ").every((name) => this[name]);
    });
    this.element.querySelector(".viewer-key").hidden = !(this.paths || this.blank);
    this.wireFaces();
    if (this.part) this.wireTools();
    if (this.paths) this.wireLines();
  }

  look(name) {
    this.stage.look(name);
    this.words.scale = (1 / this.stage.unitsPerPixel()).toFixed(4);
  }

  press(button) {
    if (!button) return;
    if (button.dataset.view) return this.look(button.dataset.view);
    if (button.dataset.viewUp) return this.stage.lookAs(numbers(button.dataset.viewUp), numbers(button.dataset.viewRight));
    const isOn = button.getAttribute("aria-pressed") !== "true";
    button.setAttribute("aria-pressed", isOn);
    const acts = {
      part: () => (this.part.group.visible = isOn),
      blank: () => (this.blank.visible = isOn),
      thin: () => this.part.thin(isOn),
      rapids: () => (this.paths.rapids.visible = isOn),
      kinds: () => this.colourByKind(isOn),
      stock: () => (this.stock.group.visible = isOn),
      deviation: () => this.colourFaces(isOn),
      holding: () => (this.holding.visible = isOn),
      paths: () => (this.paths.group.visible = isOn),
      section: () => this.cut(isOn),
      measure: () => this.measure(isOn),
    };
    acts[button.dataset.toggle]?.();
    this.stage.draw();
  }

  wireFaces() {
    if (!this.part) return;
    const pick = (event) => {
      const row = event.target.closest?.("[data-faces]");
      if (row === this.row) return;
      this.row = row;
      this.part.pick(numbers(row?.dataset.faces) || this.chosen || []);
      this.old?.pick(numbers(row?.dataset.oldFaces) || []);
      this.stage.draw();
    };
    // Reachable by keyboard as well as by pointer.
    document.querySelectorAll("[data-faces]:not([tabindex])").forEach((row) => (row.tabIndex = 0));
    document.addEventListener("pointerover", pick);
    document.addEventListener("focusin", pick);
  }

  // A press and a release at one place; turning the part is none.
  onClick(act) {
    let down = null;
    this.stage.canvas.addEventListener("pointerdown", (event) => (down = event));
    this.stage.canvas.addEventListener("pointerup", (event) => {
      if (down && Math.hypot(event.clientX - down.clientX, event.clientY - down.clientY) <= CLICK_PIXELS) act(event);
    });
  }

  wireTools() {
    const bar = this.element.querySelector("[data-section-bar]");
    if (!bar) return;
    this.section = new Section(this.stage, this.part, () => [this.old?.group, this.stock?.group, this.deviation?.group, this.holding].filter(Boolean));
    if (this.stock) this.section.cap.count(this.stock.geometry, this.stock.group);
    this.picks = new Picks(this.stage, this.part);
    bar.addEventListener("input", () => this.cut(true));
    if (!this.paths) this.onClick((event) => this.pickAt(event));
  }

  cut(isOn) {
    const bar = this.element.querySelector("[data-section-bar]");
    bar.hidden = !isOn;
    if (!isOn) return this.section.off();
    const axis = bar.querySelector("select").value;
    const at = this.section.cut(axis, Number(bar.querySelector("input").value) / 1000);
    bar.querySelector("output").textContent = `${axis.toUpperCase()} ${this.length(at)}`;
  }

  length(millimetres) {
    return this.words.units === "in" ? `${(millimetres / 25.4).toFixed(4)} in` : `${millimetres.toFixed(3)} mm`;
  }

  measure(isOn) {
    this.isMeasuring = isOn;
    this.picks.forget();
    this.tell(isOn ? this.words.measureFirst : "");
  }

  tell(text) {
    const says = this.element.querySelector("[data-pick-says]");
    says.textContent = text;
    says.hidden = !text;
  }

  async pickAt(event) {
    const pick = this.picks.at(event, (point) => this.isSeen(point));
    this.chosen = pick ? [pick.face] : [];
    this.part.pick(this.chosen);
    document.querySelectorAll("[data-faces]").forEach((row) => {
      row.classList.toggle("row-picked", Boolean(pick) && (numbers(row.dataset.faces) || []).includes(pick.face));
    });
    this.words.picked = pick ? pick.face : "";
    if (!pick) return this.tell("");
    const said = await this.face(pick.face);
    const found = this.isMeasuring ? this.picks.add(pick) : null;
    this.stage.draw();
    this.tell([said, this.isMeasuring && !found ? this.words.measureSecond : "", found ? this.between(found) : ""].filter(Boolean).join(" "));
  }

  between({ distance, way, between, angle }) {
    const apart = between === null ? this.words.measureAngle.replace("#", angle.toFixed(2)) : this.words.measureParallel.replace("#", this.length(between));
    const values = [distance, ...way].map((value) => this.length(value));
    return `${values.reduce((text, value) => text.replace("#", value), this.words.measured)} ${apart}`;
  }

  // What a face is, in the words of the server.
  async face(number) {
    if (!this.words.facesUrl) return "";
    this.faces ??= await fetch(this.words.facesUrl).then((answer) => (answer.ok ? answer.json() : { faces: [] }));
    return this.faces.faces[number] || "";
  }

  wireLines() {
    this.onClick((event) => {
      if (this.isColoured) return this.pickDeviation(event);
      const line = this.paths.lineAt(this.stage.raycaster(event));
      if (line !== null) document.dispatchEvent(new CustomEvent("shopflow:line", { detail: { line } }));
    });
    document.addEventListener("shopflow:line", (event) => {
      this.paths.choose(event.detail.line);
      this.goTo?.(event.detail.line);
      this.words.marked = this.paths.marker.visible ? this.paths.marker.position.toArray().map((at) => at.toFixed(3)).join(" ") : "";
      this.stage.draw();
    });
  }

  // Feeds by tool, or by what kind of motion they are; the key says which.
  colourByKind(isOn) {
    this.paths.colourBy(isOn);
    this.element.querySelectorAll(".viewer-key [data-tool]").forEach((item) => (item.hidden = isOn));
    this.element.querySelectorAll(".viewer-key [data-kind]").forEach((item) => {
      item.hidden = !isOn;
      item.querySelector("line").setAttribute("stroke", kindColour(item.dataset.kind));
    });
  }

  listTools(tools) {
    const list = this.element.querySelector(".viewer-key");
    tools.forEach((tool, order) => {
      const item = list.querySelector("template").content.firstElementChild.cloneNode(true);
      item.querySelector("line").setAttribute("stroke", toolColour(order));
      item.querySelector("span").textContent = `T${tool}`;
      item.dataset.tool = tool;
      list.append(item);
    });
  }

  scrub(paths) {
    if (!this.element.querySelector("[data-scrub]") || paths.line.length === 0) return;
    const elapsed = this.stock?.data.elapsed.length === paths.line.length ? this.stock.data.elapsed : null;
    this.timed = elapsed;
    const scrub = new Scrub(this.element, paths, elapsed, (motion, isMoving) => {
      if (isMoving) this.stage.levels.moved();
      this.paths.showUntil(motion);
      if (this.stock) this.cutUntil(motion);
      this.stage.draw();
    });
    // The stock follows a line chosen in the text; the path alone stays whole, since one looks for the line in it.
    if (this.stock) {
      this.goTo = (line) => {
        const motion = paths.line.lastIndexOf(line);
        if (motion >= 0) scrub.goTo(motion + 1);
      };
    }
  }
}

export function start(element) {
  if (element.dataset.started) return;
  element.dataset.started = "yes";
  new Viewer(element).open();
}
