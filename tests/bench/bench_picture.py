"""The picture of a program of 100,000 lines in a browser: frames a second, and what each frame asks of script and GPU.

`make bench` runs it where a Chromium is. Without a graphics card the browser draws on the processor (SwiftShader), so
that frames a second say how fast that is here; what does not depend on it is printed beside: milliseconds of our own
script, draw calls, vertices, and bytes handed to the GPU a frame. The reach, 30 frames a second (design, the picture),
is judged on a card alone.
"""

from __future__ import annotations

import math
import os
import sys
import threading
from http.server import ThreadingHTTPServer
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")

import django  # noqa: E402

django.setup()

from csp.utils import build_policy  # noqa: E402

from shopflow.core import nc  # noqa: E402
from shopflow.core.cutting.time import TYPICAL_MACHINE  # noqa: E402
from shopflow.core.stock import shapes  # noqa: E402
from shopflow.core.stock.grid import grid_over  # noqa: E402
from shopflow.core.stock.lines import by_line  # noqa: E402
from shopflow.core.stock.loads import loads_by_line  # noqa: E402
from shopflow.core.stock.removal import Conditions, remove  # noqa: E402
from shopflow.core.types import Tool, ToolShape  # noqa: E402
from shopflow.programs import drawing  # noqa: E402
from shopflow.programs.stock_picture import Shown, picture_of  # noqa: E402
from tests.bench.bench_stock import long_program  # noqa: E402
from tests.browser_fixtures import CHROMIUM  # noqa: E402
from tests.static.conftest import Desk, handler  # noqa: E402
from tests.static.test_viewer import PAGE, slab  # noqa: E402

LINES, REACH, SECONDS = 100_000, 30.0, 4.0
SOLID = ((0.0, 0.0, 0.0), (150.0, 100.0, 50.0))

COUNTING = """
window.asked = {script: 0, calls: 0, vertices: 0, bytes: 0};
const drawing = WebGL2RenderingContext.prototype;
function count(name, what) {
  const own = drawing[name];
  drawing[name] = function (...given) { what(given); return own.apply(this, given); };
}
const called = (vertices) => { asked.calls += 1; asked.vertices += vertices; };
const size = (one) => (typeof one === "number" ? one : one?.byteLength ?? 0);
count("drawElements", (given) => called(given[1]));
count("drawArrays", (given) => called(given[2]));
count("drawElementsInstanced", (given) => called(given[1] * given[4]));
count("bufferData", (given) => (asked.bytes += size(given[1])));
count("bufferSubData", ([, , data, , length]) => {
  asked.bytes += length ? length * data.BYTES_PER_ELEMENT : size(data);
});
const own = window.requestAnimationFrame;
window.requestAnimationFrame = (act) => own((now) => {
  const at = performance.now();
  act(now);
  asked.script += performance.now() - at;
});
"""

RUN = """async ([kind, seconds]) => {
  const slider = document.querySelector("[data-scrub]"), canvas = document.querySelector(".viewer-stage canvas");
  const gl = canvas.getContext("webgl2"), play = document.querySelector("[data-play]");
  const slide = (share) => {
    slider.value = Math.max(1, Math.round(slider.max * share));
    slider.dispatchEvent(new Event("input"));
  };
  const turn = (n) => {
    const key = n % 40 < 20 ? "ArrowLeft" : "ArrowRight";
    canvas.dispatchEvent(new KeyboardEvent("keydown", {key, bubbles: true}));
  };
  slide(kind === "turn" ? 0.9 : 0);
  if (kind === "play") play.click();
  Object.keys(asked).forEach((name) => (asked[name] = 0));
  const begun = performance.now();
  let frames = 0, acting = 0;
  for (let at = begun; at - begun < 1000 * seconds; at = performance.now()) {
    if (kind === "slider") slide(0.2 + (0.6 * (at - begun)) / (1000 * seconds));
    if (kind === "turn") turn(frames);
    acting += performance.now() - at;
    await new Promise((done) => requestAnimationFrame(done));
    gl.readPixels(0, 0, 1, 1, gl.RGBA, gl.UNSIGNED_BYTE, new Uint8Array(4));  // until it is drawn
    frames += 1;
  }
  const took = (performance.now() - begun) / 1000;
  if (kind === "play") play.click();
  const each = Object.entries(asked).map(([name, sum]) => [name, sum / frames]);
  return {rate: frames / took, ...Object.fromEntries(each), script: (asked.script + acting) / frames};
}"""


def answers() -> dict[str, bytes]:
    """The bytes that the server gives for the program, by address."""
    tools = {1: Tool(1, "12 mm", ToolShape.FLAT, 12.0), 2: Tool(2, "6 mm ball", ToolShape.BALL, 6.0)}
    motions = nc.read(long_program(LINES)).motions
    columns, conditions = shapes.box(grid_over(SOLID, 0.5), SOLID).vertical_only(), Conditions(TYPICAL_MACHINE)
    picture = picture_of(columns, motions, tools, conditions)
    removal = remove(columns, motions, tools, conditions)
    elapsed = np.arange(1.0, len(drawing.rows_drawn(motions, 1)) + 1.0)
    shown = Shown(tools, (), deviates=False)
    stock = picture.to_bytes(by_line(removal, motions), loads_by_line(None, motions), elapsed, shown)
    parts = {f"/stock/{number}/": stretch for number, stretch in enumerate(picture.stretches)}
    return {"/mesh": slab(150.0, 100.0), "/paths": drawing.drawing(motions, offset=1), "/stock/": stock, **parts}


def served() -> tuple[ThreadingHTTPServer, str]:
    desk = Desk()
    desk.answers |= answers()
    desk.page("/", PAGE, mesh_url="/mesh", paths_url="/paths", stock_url="/stock/")
    server = ThreadingHTTPServer(("127.0.0.1", 0), handler(desk, build_policy()))
    threading.Thread(target=server.serve_forever, daemon=True).start()
    return server, f"http://127.0.0.1:{server.server_port}"


def measured(address: str) -> bool:
    from playwright.sync_api import sync_playwright

    reached = True
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox", "--enable-unsafe-swiftshader"])
        page = browser.new_page(viewport={"width": 1440, "height": 900})
        page.add_init_script(COUNTING)
        page.goto(address)
        page.locator("[data-ready=yes]").wait_for(timeout=120_000)
        width, height, by = page.evaluate(
            """() => { const it = document.querySelector(".viewer-stage canvas"), gl = it.getContext("webgl2");
            const name = gl.getExtension("WEBGL_debug_renderer_info");
            return [it.width, it.height, name ? gl.getParameter(name.UNMASKED_RENDERER_WEBGL) : "not told"]; }"""
        )
        is_card = "swiftshader" not in by.lower() and "llvmpipe" not in by.lower()
        print(f"picture of {LINES:,} lines, {width} x {height} pixels, drawn by {by}")
        for kind, words in (("slider", "slider moved"), ("turn", "part turned"), ("play", "played")):
            page.evaluate(RUN, [kind, 1.0])  # what is fetched or compiled on the first of it is not counted
            found = page.evaluate(RUN, [kind, SECONDS])
            is_fast = found["rate"] >= REACH or not is_card
            reached &= is_fast
            reach = f", reach {REACH:.0f}{'' if is_fast else '  MISSED'}" if is_card else " (no card: not judged)"
            print(
                f"  {words}: {found['rate']:.1f} frames a second{reach}; a frame: {found['script']:.1f} ms of script, "
                f"{math.ceil(found['calls'])} draw calls, {found['vertices'] / 1e3:.0f} thousand vertices, "
                f"{found['bytes'] / 1e3:.0f} kB to the GPU"
            )
        browser.close()
    return reached


def main() -> int:
    if not Path(CHROMIUM).exists():
        print("picture: no Chromium here, not measured")
        return 0
    server, address = served()
    try:
        return 0 if measured(address) else 1
    finally:
        server.shutdown()


if __name__ == "__main__":
    raise SystemExit(main())
