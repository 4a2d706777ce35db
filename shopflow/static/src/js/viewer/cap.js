// What the cut goes through, filled and hatched: where more back sides than front sides of a closed body lie behind the
// plane, the eye looks into material. The stencil counts them.
import {
  AlwaysStencilFunc, BackSide, CanvasTexture, DecrementWrapStencilOp, DoubleSide, FrontSide, IncrementWrapStencilOp, Mesh,
  MeshBasicMaterial, NotEqualStencilFunc, PlaneGeometry, RepeatWrapping, ReplaceStencilOp, SRGBColorSpace, Vector3,
} from "three";
import { colour } from "../theme.js";

const TILE = 64;
const TILE_PIXELS = 11;
const TOWARDS_Z = new Vector3(0, 0, 1);

// One slanted line a tile; its ends are drawn into the corners too, so that tiles join.
function hatching(anisotropy) {
  const canvas = document.createElement("canvas");
  canvas.width = canvas.height = TILE;
  const pen = canvas.getContext("2d");
  pen.fillStyle = colour("--cut");
  pen.fillRect(0, 0, TILE, TILE);
  pen.strokeStyle = colour("--ink-2");
  pen.lineWidth = TILE / 9;
  for (const aside of [-TILE, 0, TILE]) {
    pen.moveTo(aside - 8, TILE + 8);
    pen.lineTo(aside + TILE + 8, -8);
  }
  pen.stroke();
  const texture = new CanvasTexture(canvas);
  texture.wrapS = texture.wrapT = RepeatWrapping;
  texture.colorSpace = SRGBColorSpace;
  texture.anisotropy = anisotropy;
  return texture;
}

function counting(side, step) {
  return new MeshBasicMaterial({
    side, colorWrite: false, depthWrite: false, depthTest: false,
    stencilWrite: true, stencilFunc: AlwaysStencilFunc, stencilFail: step, stencilZFail: step, stencilZPass: step,
  });
}

export class Cap {
  constructor(stage, part) {
    this.stage = stage;
    this.counters = [];
    this.count(part.body.geometry, part.group);
    this.hatch = hatching(stage.renderer.capabilities.getMaxAnisotropy());
    const filling = new MeshBasicMaterial({
      map: this.hatch, side: DoubleSide, stencilWrite: true, stencilRef: 0, stencilFunc: NotEqualStencilFunc,
      stencilFail: ReplaceStencilOp, stencilZFail: ReplaceStencilOp, stencilZPass: ReplaceStencilOp,
    });
    this.sheet = new Mesh(new PlaneGeometry(1, 1), filling);
    this.sheet.renderOrder = 2;
    this.sheet.onAfterRender = (renderer) => renderer.clearStencil();
    stage.add(this.sheet);
    this.off();
  }

  // One closed body more, which counts while its group is shown.
  count(geometry, group) {
    for (const [side, step] of [[BackSide, IncrementWrapStencilOp], [FrontSide, DecrementWrapStencilOp]]) {
      const counter = new Mesh(geometry, counting(side, step));
      counter.renderOrder = 1;
      counter.frustumCulled = false;
      counter.raycast = () => {};
      counter.visible = false;
      group.add(counter);
      this.counters.push(counter);
    }
  }

  // Lies in the plane, over all of the part; the lines as far apart on the screen as on paper, whatever the zoom now.
  fill(plane) {
    const { center, radius } = this.stage.sphere;
    const size = 4 * radius;
    plane.projectPoint(center, this.sheet.position);
    this.sheet.quaternion.setFromUnitVectors(TOWARDS_Z, plane.normal.clone().negate());
    this.sheet.scale.set(size, size, 1);
    this.hatch.repeat.setScalar(size / (TILE_PIXELS * this.stage.unitsPerPixel()));
    this.counters.forEach((counter) => (counter.material.clippingPlanes = [plane]));
    this.show(true);
  }

  off() {
    this.show(false);
  }

  show(isOn) {
    for (const one of [...this.counters, this.sheet]) one.visible = isOn;
  }
}
