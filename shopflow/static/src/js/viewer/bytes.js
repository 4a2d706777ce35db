// What the server sends: meshes (SFM1, shopflow/core/solid/mesh.py), tool paths (SFP1, docs/look.md), stock (SFS1 and
// SFT1, shopflow/programs/stock_picture.py), deviation (SFD1, shopflow/programs/deviation_picture.py).
export class NotReadable extends Error {}

class Reader {
  constructor(buffer, letters, headerBytes) {
    this.buffer = buffer;
    this.at = headerBytes;
    const found = buffer.byteLength < headerBytes ? "" : String.fromCharCode(...new Uint8Array(buffer, 0, 4));
    if (found !== letters) throw new NotReadable(`expected ${letters}, got ${buffer.byteLength} bytes of something else`);
    this.header = new Uint32Array(buffer, 4, headerBytes / 4 - 1);
  }

  take(Kind, count) {
    if (this.at + 4 * count > this.buffer.byteLength) throw new NotReadable("the file is cut short");
    const part = new Kind(this.buffer, this.at, count);
    this.at += 4 * count;
    return part;
  }
}

export function readMesh(buffer) {
  const reader = new Reader(buffer, "SFM1", 32);
  const [points, triangles, edges, edgePoints] = reader.header;
  return {
    points: reader.take(Float32Array, 3 * points),
    triangles: reader.take(Uint32Array, 3 * triangles),
    faces: reader.take(Int32Array, triangles),
    edgeStarts: reader.take(Uint32Array, edges + 1),
    edgePoints: reader.take(Float32Array, 3 * edgePoints),
  };
}

export function readPaths(buffer) {
  const reader = new Reader(buffer, "SFP1", 16);
  const [motions, points] = reader.header;
  return {
    line: reader.take(Int32Array, motions),
    kind: reader.take(Int32Array, motions),
    tool: reader.take(Int32Array, motions),
    starts: reader.take(Uint32Array, motions + 1),
    points: reader.take(Float32Array, 3 * points),
  };
}

function withHeader(buffer, letters) {
  const reader = new Reader(buffer, letters, 8);
  const [length] = reader.header;
  const header = JSON.parse(new TextDecoder().decode(new Uint8Array(buffer, 8, length)));
  reader.at += length;
  return [reader, header];
}

export function readStock(buffer) {
  const [reader, header] = withHeader(buffer, "SFS1");
  const { frames, changes, lines, motions } = header;
  return {
    ...header,
    motion: reader.take(Int32Array, frames),
    begins: reader.take(Uint32Array, frames + 1),
    cell: reader.take(Uint32Array, changes),
    top: reader.take(Float32Array, changes),
    low: reader.take(Float32Array, changes),
    programLine: reader.take(Int32Array, lines),
    volume: reader.take(Float32Array, lines),
    axial: reader.take(Float32Array, lines),
    radial: reader.take(Float32Array, lines),
    rate: reader.take(Float32Array, lines),
    chip: reader.take(Float32Array, lines),
    power: reader.take(Float32Array, lines),
    bend: reader.take(Float32Array, lines),
    elapsed: reader.take(Float32Array, motions),
  };
}

export function readStretch(buffer) {
  const reader = new Reader(buffer, "SFT1", 8);
  const [changes] = reader.header;
  return {
    motion: reader.take(Uint32Array, changes),
    cell: reader.take(Uint32Array, changes),
    value: reader.take(Float32Array, changes),
  };
}

export function readDeviation(buffer) {
  const [reader, header] = withHeader(buffer, "SFD1");
  const { points, triangles } = header;
  return {
    numbers: header.faces,
    points: reader.take(Float32Array, 3 * points),
    triangles: reader.take(Uint32Array, 3 * triangles),
    faces: reader.take(Int32Array, triangles),
    deviation: reader.take(Float32Array, points),
  };
}

export async function fetchBytes(url, onShare) {
  const response = await fetch(url, { headers: { Accept: "application/octet-stream" } });
  if (response.status === 204 || response.status === 404) return null;
  if (!response.ok) throw new NotReadable(`the server answered ${response.status}`);
  const total = Number(response.headers.get("Content-Length"));
  if (!total || !response.body || response.headers.get("Content-Encoding")) return response.arrayBuffer();
  return collect(response.body.getReader(), total, onShare);
}

async function collect(reader, total, onShare) {
  const bytes = new Uint8Array(total);
  let at = 0;
  for (let part = await reader.read(); !part.done; part = await reader.read()) {
    bytes.set(part.value, at);
    at += part.value.length;
    onShare(Math.round((100 * at) / total));
  }
  return bytes.buffer;
}
