// Faces of one part, or of two, coloured and lettered: what the buttons [data-mark] of the legend name.
import { BufferGeometry, CanvasTexture, Group, Mesh, MeshLambertMaterial, Sprite, SpriteMaterial, Vector3 } from "three";
import { NUMBERS, colour } from "../theme.js";
import { facesOf } from "./part.js";

const MOST_LETTERS = 40;
const LETTER_PIXELS = 20;
const LIFT = 0.02;

function disc(text) {
  const canvas = document.createElement("canvas");
  canvas.width = canvas.height = 64;
  const pen = canvas.getContext("2d");
  pen.fillStyle = colour("--white");
  pen.strokeStyle = colour("--ink");
  pen.lineWidth = 4;
  pen.beginPath();
  pen.arc(32, 32, 28, 0, 2 * Math.PI);
  pen.fill();
  pen.stroke();
  pen.font = `600 38px ${NUMBERS}`;
  pen.textAlign = "center";
  pen.textBaseline = "middle";
  pen.fillStyle = colour("--ink");
  pen.fillText(text, 32, 35);
  return new CanvasTexture(canvas);
}

// For each wanted face its area, and the middle and normal of its largest triangle: a face's own middle may lie in a hole.
function places(mesh, wanted) {
  const found = new Map();
  const [a, b, c] = [new Vector3(), new Vector3(), new Vector3()];
  mesh.faces.forEach((face, triangle) => {
    if (!wanted.has(face)) return;
    [a, b, c].forEach((corner, at) => corner.fromArray(mesh.points, 3 * mesh.triangles[3 * triangle + at]));
    const normal = b.clone().sub(a).cross(c.clone().sub(a));
    const area = normal.length();
    const place = found.get(face) || { area: 0, largest: 0 };
    place.area += area;
    if (area > place.largest) Object.assign(place, { largest: area, normal: normal.normalize(), at: a.clone().add(b).add(c).divideScalar(3) });
    found.set(face, place);
  });
  return [...found.values()].filter((place) => place.at).sort((one, other) => other.area - one.area);
}

// The faces that one button of the legend names, as one thing to show and hide. stage keeps the letters their size.
export function marked(button, part, faces, stage, isThrough) {
  const wanted = new Set(faces);
  const group = new Group();
  const geometry = new BufferGeometry();
  geometry.setAttribute("position", part.body.geometry.getAttribute("position"));
  geometry.setAttribute("normal", part.body.geometry.getAttribute("normal"));
  geometry.setIndex(facesOf(part.mesh, wanted));
  const skin = new MeshLambertMaterial({ color: colour(`--mark-${button.dataset.mark}`), transparent: isThrough, opacity: isThrough ? 0.75 : 1 });
  group.add(new Mesh(geometry, skin));
  const letter = new SpriteMaterial({ map: disc(button.dataset.letter) });
  for (const { at, normal } of places(part.mesh, wanted).slice(0, MOST_LETTERS)) {
    const sprite = new Sprite(letter);
    sprite.position.copy(at).addScaledVector(normal, LIFT * 2 * part.radius);
    sprite.renderOrder = 2;
    group.add(sprite);
    stage.keepSize(sprite, LETTER_PIXELS);
  }
  return group;
}
