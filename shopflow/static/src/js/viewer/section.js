// A plane that cuts the part open, square to one of its axes: what lies between it and the eye is left away, and the
// material that it goes through is hatched.
import { Box3, DoubleSide, Plane, Vector3 } from "three";
import { Cap } from "./cap.js";

const AXES = { x: new Vector3(1, 0, 0), y: new Vector3(0, 1, 0), z: new Vector3(0, 0, 1) };

export class Section {
  constructor(stage, part, extra) {
    this.stage = stage;
    this.part = part;
    this.extra = extra;
    this.plane = new Plane(new Vector3(0, 0, -1), 0);
    this.box = new Box3().expandByObject(part.body);
    stage.renderer.localClippingEnabled = true;
    this.cap = new Cap(stage, part);
  }

  materials() {
    const found = [];
    for (const group of [this.part.group, ...this.extra()]) group.traverse((one) => one.material && !one.isSprite && !this.cap.counters.includes(one) && found.push(one.material));
    return found;
  }

  // share: 0 leaves almost nothing, 1 all of the part; where the plane stands is given back, in the picture's coordinates.
  cut(axis, share) {
    const { min, max } = this.box;
    const at = min[axis] + share * (max[axis] - min[axis]);
    const { camera, controls } = this.stage;
    const away = camera.position[axis] > controls.target[axis] ? -1 : 1;
    this.plane.normal.copy(AXES[axis]).multiplyScalar(away);
    this.plane.constant = -away * at;
    this.isOn = true;
    this.cap.fill(this.plane);
    this.use([this.plane]);
    return at;
  }

  off() {
    this.isOn = false;
    this.cap.off();
    this.use([]);
  }

  // Cut open, one looks onto the back of what is otherwise drawn from the front alone.
  use(planes) {
    for (const material of this.materials()) {
      material.userData.side ??= material.side;
      material.clippingPlanes = planes;
      material.side = this.isOn ? DoubleSide : material.userData.side;
      material.needsUpdate = true;
    }
    this.stage.draw();
  }
}
