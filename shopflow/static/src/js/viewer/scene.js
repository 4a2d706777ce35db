// A scene seen without perspective, Z up, drawn only when something changed.
import {
  AmbientLight, Box3, CanvasTexture, DirectionalLight, OrthographicCamera, Raycaster, Scene, Sphere, Sprite, SpriteMaterial,
  Vector2, Vector3, WebGLRenderer, BufferGeometry, Line, LineBasicMaterial, Group,
} from "three";
import { OrbitControls } from "three/addons/controls/OrbitControls.js";
import { NUMBERS, colour, whenResized } from "../theme.js";
import { Levels } from "./levels.js";

// Where the eye stands, and what is up, for each named view.
const VIEWS = {
  iso: [[1, -1.2, 0.9], [0, 0, 1]],
  top: [[0, 0, 1], [0, 1, 0]],
  bottom: [[0, 0, -1], [0, 1, 0]],
  front: [[0, -1, 0], [0, 0, 1]],
  back: [[0, 1, 0], [0, 0, 1]],
  left: [[-1, 0, 0], [0, 0, 1]],
  right: [[1, 0, 0], [0, 0, 1]],
};
const PICK_PIXELS = 6;
const MARGIN = 1.15;
const AXIS_PIXELS = 44;

function letter(text, at, size) {
  const canvas = document.createElement("canvas");
  canvas.width = canvas.height = 64;
  const pen = canvas.getContext("2d");
  pen.font = `600 44px ${NUMBERS}`;
  pen.textAlign = "center";
  pen.textBaseline = "middle";
  pen.fillStyle = colour("--ink");
  pen.fillText(text, 32, 34);
  const sprite = new Sprite(new SpriteMaterial({ map: new CanvasTexture(canvas), depthTest: false }));
  sprite.position.copy(at);
  sprite.scale.setScalar(size);
  return sprite;
}

function axes() {
  const group = new Group();
  const material = new LineBasicMaterial({ color: colour("--ink"), depthTest: false, transparent: true });
  for (const [name, direction] of Object.entries({ X: [1, 0, 0], Y: [0, 1, 0], Z: [0, 0, 1] })) {
    const end = new Vector3(...direction);
    group.add(new Line(new BufferGeometry().setFromPoints([new Vector3(), end]), material));
    group.add(letter(name, end.clone().multiplyScalar(1.3), 0.6));
  }
  group.children.forEach((child) => (child.renderOrder = 3));
  return group;
}

// Where there is no graphics card, as the browser calls what it draws with.
function isDrawnByProcessor() {
  const gl = document.createElement("canvas").getContext("webgl2");
  const named = gl?.getExtension("WEBGL_debug_renderer_info");
  const name = named ? gl.getParameter(named.UNMASKED_RENDERER_WEBGL) : "";
  gl?.getExtension("WEBGL_lose_context")?.loseContext();
  return /swiftshader|llvmpipe|software|basic render/i.test(name);
}

export class Stage {
  constructor(box, label) {
    this.box = box;
    // On a processor smooth edges cost most of a picture: there it is drawn twice as fine instead, while it rests.
    const isSlow = isDrawnByProcessor();
    this.renderer = new WebGLRenderer({ antialias: !isSlow, alpha: true, stencil: true });
    this.fine = isSlow ? 2 : Math.min(2, window.devicePixelRatio || 1);
    this.renderer.setPixelRatio(this.fine);
    this.canvas = this.renderer.domElement;
    this.canvas.tabIndex = 0;
    this.canvas.setAttribute("role", "img");
    this.canvas.setAttribute("aria-label", label);
    this.scene = new Scene();
    this.camera = new OrthographicCamera(-1, 1, 1, -1, -1000, 1000);
    this.light = new DirectionalLight(0xffffff, 2.3);
    this.scene.add(new AmbientLight(0xffffff, 1.35), this.light, this.light.target);
    this.levels = new Levels((level) => this.level(level));
    this.turnAbout(new Vector3(0, 0, 1));
    this.sphere = new Sphere(new Vector3(), 1);
    this.extent = new Box3();
    this.steady = [];
    box.append(this.canvas);
    whenResized(box, () => this.resize());
    this.canvas.addEventListener("keydown", (event) => this.key(event));
  }

  // The way that stays up on the screen while the part is turned; the controls know it from their making only.
  turnAbout(up) {
    this.upright = up;
    this.controls?.dispose();
    this.camera.up.copy(up);
    this.controls = new OrbitControls(this.camera, this.canvas);
    this.controls.enableDamping = false;
    this.controls.zoomToCursor = true;
    this.controls.addEventListener("change", () => this.drawMoved());
  }

  // As the part stands in a setup: what is up there is up here, what lies along its X+ points right.
  lookAs(up, right) {
    const [over, aside] = [new Vector3(...up), new Vector3(...right)];
    const back = over.clone().cross(aside);
    this.turnAbout(over);
    const [[x, y, z]] = VIEWS.iso;
    this.lookFrom(aside.multiplyScalar(x).addScaledVector(back, y).addScaledVector(over, z));
  }

  add(object) {
    this.scene.add(object);
  }

  measure(objects) {
    const extent = this.extent.makeEmpty();
    objects.forEach((object) => extent.expandByObject(object));
    if (extent.isEmpty()) extent.set(new Vector3(-1, -1, -1), new Vector3(1, 1, 1));
    extent.getBoundingSphere(this.sphere);
    this.sphere.radius = Math.max(this.sphere.radius, 1e-3);
  }

  markZero() {
    this.zero = axes();
    this.add(this.zero);
    this.keepSize(this.zero, AXIS_PIXELS);
  }

  // As large on the screen whatever the zoom.
  keepSize(object, pixels) {
    this.steady.push([object, pixels]);
  }

  unitsPerPixel() {
    return (this.camera.top - this.camera.bottom) / this.camera.zoom / this.size().height;
  }

  look(name) {
    const [eye, up] = VIEWS[name];
    if (this.upright.z !== 1) this.turnAbout(new Vector3(0, 0, 1));
    this.camera.up.set(...(name === "top" || name === "bottom" ? up : [0, 0, 1]));
    this.lookFrom(new Vector3(...eye));
  }

  lookFrom(eye) {
    const { center, radius } = this.sphere;
    this.controls.target.copy(center);
    this.camera.position.copy(center).add(eye.normalize().multiplyScalar(4 * radius));
    this.camera.near = -20 * radius;
    this.camera.far = 40 * radius;
    this.fit();
  }

  fit() {
    this.camera.zoom = 1;
    this.controls.update();
    this.camera.updateMatrixWorld();
    const { width, height } = this.size();
    const half = this.halfSeen();
    this.camera.top = MARGIN * Math.max(half.y, (half.x * height) / width);
    this.makeRoomForZero();
    this.resize();
  }

  // Axes at the edge of the part would stand half outside the picture; those far away from it are left where they are.
  makeRoomForZero() {
    if (!this.zero || !this.extent.clone().expandByScalar(this.sphere.radius / 2).containsPoint(this.zero.position)) return;
    const { width, height } = this.size();
    // Three times: the axes keep their size on the screen, so they reach further in a picture that shows more.
    for (let time = 0; time < 3; time += 1) {
      const reach = (1.7 * AXIS_PIXELS * 2 * this.camera.top) / height;
      const half = this.halfSeen(this.extent, reach);
      this.camera.top = Math.max(this.camera.top, half.y, (half.x * height) / width);
    }
  }

  // Half of what the box covers, seen from here: its eight corners, and the axes of this length, in the camera's coordinates.
  halfSeen({ min, max } = this.extent, reach = 0) {
    const toEye = this.camera.matrixWorldInverse.copy(this.camera.matrixWorld).invert();
    const half = new Vector2();
    for (let corner = 0; corner < 8; corner += 1) {
      const place = new Vector3(corner & 1 ? max.x : min.x, corner & 2 ? max.y : min.y, corner & 4 ? max.z : min.z);
      place.applyMatrix4(toEye);
      half.set(Math.max(half.x, Math.abs(place.x)), Math.max(half.y, Math.abs(place.y)));
    }
    for (const end of reach ? [[reach, 0, 0], [0, reach, 0], [0, 0, reach]] : []) {
      const place = new Vector3(...end).applyMatrix4(toEye);
      half.set(Math.max(half.x, Math.abs(place.x)), Math.max(half.y, Math.abs(place.y)));
    }
    return half;
  }

  size() {
    return { width: Math.max(1, this.box.clientWidth), height: Math.max(1, this.box.clientHeight) };
  }

  resize() {
    const { width, height } = this.size();
    const isOther = width !== this.drawnSize?.width || height !== this.drawnSize?.height;
    if (isOther) this.renderer.setSize(width, height, false);
    this.drawnSize = { width, height };
    this.camera.bottom = -this.camera.top;
    this.camera.right = (this.camera.top * width) / height;
    this.camera.left = -this.camera.right;
    this.camera.updateProjectionMatrix();
    // A canvas of another size is empty until it is drawn on: at once, or a frame without the part is seen.
    if (isOther) this.render();
    else this.draw();
  }

  // As fine as the screen shows it, or, while a movement is too slow, one pixel for each of the page's. A canvas of
  // another size is empty until it is drawn on.
  level(number) {
    const ratio = number > 0 ? 1 : this.fine;
    if (ratio !== this.renderer.getPixelRatio()) this.renderer.setPixelRatio(ratio);
    this.render();
  }

  // A picture of a movement: of less than everything, where the machine does not keep up.
  drawMoved() {
    this.levels.moved();
    this.draw();
  }

  draw() {
    if (this.isAsked) return;
    this.isAsked = true;
    requestAnimationFrame((now) => {
      this.isAsked = false;
      this.levels.drawn(now);
      this.render();
    });
  }

  render() {
    // From over the left shoulder, so that no two sides that meet are equally bright.
    const aside = new Vector3(-0.55, 0.8, 0.2).applyQuaternion(this.camera.quaternion).multiplyScalar(3 * this.sphere.radius);
    this.light.position.copy(this.camera.position).add(aside);
    this.light.target.position.copy(this.controls.target);
    for (const [object, pixels] of this.steady) object.scale.setScalar(pixels * this.unitsPerPixel());
    this.renderer.render(this.scene, this.camera);
  }

  raycaster(event) {
    const frame = this.canvas.getBoundingClientRect();
    const place = new Vector2((2 * (event.clientX - frame.left)) / frame.width - 1, 1 - (2 * (event.clientY - frame.top)) / frame.height);
    const caster = new Raycaster();
    caster.params.Line.threshold = PICK_PIXELS * this.unitsPerPixel();
    caster.setFromCamera(place, this.camera);
    return caster;
  }

  turn(round, up) {
    const eye = this.camera.position.clone().sub(this.controls.target);
    const aside = new Vector3().crossVectors(this.camera.up, eye).normalize();
    eye.applyAxisAngle(this.camera.up, round);
    const tilted = eye.clone().applyAxisAngle(aside, up);
    // Not over the pole: there the picture would flip.
    if (tilted.clone().normalize().cross(this.camera.up).length() > 0.05) eye.copy(tilted);
    this.camera.position.copy(this.controls.target).add(eye);
    this.controls.update();
    this.drawMoved();
  }

  zoom(factor) {
    this.camera.zoom *= factor;
    this.camera.updateProjectionMatrix();
    this.draw();
  }

  key(event) {
    const step = Math.PI / 18;
    const acts = {
      ArrowLeft: () => this.turn(-step, 0),
      ArrowRight: () => this.turn(step, 0),
      ArrowUp: () => this.turn(0, -step),
      ArrowDown: () => this.turn(0, step),
      "+": () => this.zoom(1.25),
      "-": () => this.zoom(0.8),
      0: () => this.look("iso"),
    };
    const act = acts[event.key];
    if (!act || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    act();
  }
}
