// The slider over a program: by line or by minute, to a tool's first motion, and played.
const PLAYED_IN_S = 30; // a whole program; a picture a step, as often as the browser draws

// First place in rising numbers that is not below `value`.
function firstAt(rising, value) {
  let low = 0;
  let high = rising.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (rising[middle] < value) low = middle + 1;
    else high = middle;
  }
  return low;
}

export class Scrub {
  // paths: as readPaths has them. elapsed: seconds from the beginning to the end of each motion, or null where they are not
  // known. show: what to do with a number of motions, and with whether the slider is moved or the program played.
  constructor(element, paths, elapsed, show) {
    this.paths = paths;
    this.elapsed = elapsed;
    this.act = show;
    this.slider = element.querySelector("[data-scrub]");
    this.line = this.slider.parentElement.querySelector("output");
    this.play = element.querySelector("[data-play]");
    this.tools = element.querySelector("[data-scrub-tool]");
    this.by = element.querySelector("[data-scrub-by]");
    this.says = element.querySelector("[data-scrub-says]");
    this.slider.parentElement.hidden = false;
    this.slider.addEventListener("input", () => {
      this.stop();
      this.goTo(this.motionAt(Number(this.slider.value)), { isSet: false, isMoving: true });
    });
    if (elapsed) this.wireSteps();
    this.motion = paths.line.length;
    this.measure();
    this.goTo(this.motion);
  }

  get isByMinute() {
    return this.elapsed !== null && this.by.value === "minute";
  }

  get total() {
    return this.elapsed[this.elapsed.length - 1];
  }

  wireSteps() {
    this.listTools();
    this.by.addEventListener("change", () => {
      this.measure();
      this.goTo(this.motion);
    });
    this.tools.addEventListener("change", () => {
      this.stop();
      this.goTo(Number(this.tools.value) + 1);
    });
    this.play.addEventListener("click", () => (this.timer ? this.stop() : this.start()));
  }

  // In the order of the program: a tool that comes back is there again.
  listTools() {
    const { tool, line } = this.paths;
    tool.forEach((number, motion) => {
      if (motion > 0 && tool[motion - 1] === number) return;
      const words = this.tools.dataset.words.replace("#", number).replace("#", line[motion]);
      this.tools.append(new Option(words, motion));
    });
  }

  measure() {
    this.slider.max = this.isByMinute ? Math.max(1, Math.ceil(this.total)) : this.paths.line.length;
  }

  motionAt(value) {
    return this.isByMinute ? Math.max(1, Math.min(this.paths.line.length, firstAt(this.elapsed, value) + 1)) : value;
  }

  goTo(motion, { isSet = true, isMoving = false } = {}) {
    this.motion = motion;
    if (isSet) this.slider.value = this.isByMinute ? Math.round(this.elapsed[motion - 1]) : motion;
    this.line.textContent = this.paths.line[Math.max(0, motion - 1)];
    if (this.elapsed) this.tell(motion);
    this.act(motion, isMoving);
  }

  tell(motion) {
    const minutes = [this.elapsed[motion - 1], this.total].map((seconds) => (seconds / 60).toFixed(2));
    this.says.textContent = minutes.reduce((text, one) => text.replace("#", one), this.says.dataset.words);
    const { tool } = this.paths;
    let first = motion - 1;
    while (first > 0 && tool[first - 1] === tool[first]) first -= 1;
    this.tools.value = first;
  }

  start() {
    this.play.setAttribute("aria-pressed", "true");
    if (this.motion >= this.paths.line.length) this.motion = 1;
    const from = { at: performance.now(), elapsed: this.elapsed[this.motion - 1] };
    const step = (now) => {
      const seconds = from.elapsed + ((now - from.at) / 1000 / PLAYED_IN_S) * this.total;
      const motion = Math.min(this.paths.line.length, firstAt(this.elapsed, seconds) + 1);
      this.goTo(motion, { isMoving: true });
      if (motion >= this.paths.line.length) this.stop();
      else this.timer = requestAnimationFrame(step);
    };
    this.timer = requestAnimationFrame(step);
  }

  stop() {
    if (!this.timer) return;
    cancelAnimationFrame(this.timer);
    this.timer = 0;
    this.play.setAttribute("aria-pressed", "false");
  }
}
