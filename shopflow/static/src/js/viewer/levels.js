// How much is drawn while something moves: everything where the machine keeps up, less and less of it where it does not;
// and everything again as soon as it rests.
const SLOW_MS = 40; // between two pictures of a movement
const QUICK_MS = 14;
const RESTS_MS = 180;
const COARSEST = 2;

export class Levels {
  // draw: draws a picture of a level. Those that draw a lot have `level(number)`: 0 everything, 1 and 2 less.
  constructor(draw) {
    this.draw = draw;
    this.heavy = [];
    this.wanted = 0; // of a movement
    this.now = 0;
    this.last = 0; // when the picture before was drawn, 0 at rest
    this.timer = 0;
  }

  add(one) {
    this.heavy.push(one);
  }

  // Something moved; a picture of it follows.
  moved() {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.rest(), RESTS_MS);
    this.set(this.wanted);
  }

  rest() {
    this.timer = 0;
    if (this.last && this.gap < QUICK_MS && this.wanted > 0) this.wanted -= 1;
    this.last = 0;
    this.gap = 0;
    this.set(0);
  }

  // A picture was drawn.
  drawn(at) {
    if (!this.timer) return;
    if (this.last) {
      const gap = at - this.last;
      this.gap = this.gap ? 0.6 * this.gap + 0.4 * gap : gap;
      if (this.gap > SLOW_MS && this.wanted < COARSEST) {
        this.wanted += 1;
        this.gap = 0;
      }
    }
    this.last = at;
  }

  set(level) {
    if (level === this.now) return;
    this.now = level;
    this.heavy.forEach((one) => one.level(level));
    this.draw(level);
  }
}
