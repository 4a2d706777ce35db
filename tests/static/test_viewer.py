"""The picture of the part in a real browser, from the bytes that the server's own code writes."""

import io

import numpy as np
import pytest
from PIL import Image, ImageColor

from shopflow.core.solid.mesh import Mesh
from shopflow.core.types import MotionKind
from tests.static.paths import path_bytes

pytestmark = pytest.mark.browser

PAGE = """{% extends "base.html" %}{% block title %}Part{% endblock %}{% block main %}
{% include "_viewer.html" with viewer_label="Bearing block" %}
<table><tr id="top-face" data-faces="1" tabindex="0"><td>top face</td></tr></table>
<ol class="program" data-program><li class="program-line" id="L4"><a class="at" href="#L4" data-line="4">4</a></li>
<li class="program-line" id="L5"><a class="at" href="#L5" data-line="5">5</a></li></ol>{% endblock %}"""


def slab(width=40.0, depth=30.0):
    """One square of two triangles, seen from above; its outline as one drawn edge."""
    corners = np.array([(0, 0, 0), (width, 0, 0), (width, depth, 0), (0, depth, 0)], np.float32)
    return Mesh(
        points=corners,
        triangles=np.array([(0, 1, 2), (0, 2, 3)], np.uint32),
        faces=np.array([1, 1], np.int32),
        edge_starts=np.array([0, 5], np.uint32),
        edge_points=np.vstack([corners, corners[:1]]),
    ).to_bytes()


def hollow_block():
    """A block of 40 × 30 × 20 mm with a closed hollow of half that size in its middle."""
    corners = np.array([(x, y, z) for x in (0, 1) for y in (0, 1) for z in (0, 1)], np.float32)
    sides = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
    triangles = np.array([corner for a, b, c, d in sides for corner in ((a, b, c), (a, c, d))], np.uint32)
    outside = corners * (40, 30, 20)
    return Mesh(
        points=np.vstack([outside, outside / 2 + (10, 7.5, 5)]).astype(np.float32),
        triangles=np.vstack([triangles, triangles[:, ::-1] + 8]),
        faces=np.repeat(np.arange(12, dtype=np.int32), 2),
        edge_starts=np.array([0], np.uint32),
        edge_points=np.zeros((0, 3), np.float32),
    ).to_bytes()


PATHS = path_bytes(
    (4, MotionKind.RAPID, 1, [(0, 15, 5), (0, 15, 0)]),
    (5, MotionKind.FEED, 1, [(0, 15, 0), (40, 15, 0)]),
)


FRAME = "await new Promise(done => requestAnimationFrame(done));"
DRAWN = f"""async () => {{
  {FRAME}{FRAME}
  const gl = document.querySelector("canvas").getContext("webgl2");
  gl.readPixels(0, 0, 1, 1, gl.RGBA, gl.UNSIGNED_BYTE, new Uint8Array(4));
  {FRAME}{FRAME}
}}"""
"""Waits until what was asked for is drawn by the script, done by the graphics process (reading waits for it), shown."""


def ink(page):
    """The picture as it is shown, a PNG."""
    page.evaluate(DRAWN)
    return page.locator("canvas").screenshot()


def shown(page, desk, *, mesh=None, paths=None, **more):
    desk.page("/", PAGE, mesh_url="/mesh", paths_url="/paths" if paths else "", **more)
    desk.answers["/mesh"] = mesh if mesh is not None else (204, "")
    desk.answers["/paths"] = paths
    page.goto("/")
    return page.locator("[data-viewer]")


def ready(page, desk, **options):
    viewer = shown(page, desk, **options)
    page.locator("[data-ready=yes]").wait_for()
    return viewer


def test_the_part_is_drawn(page, desk):
    ready(page, desk, mesh=slab())
    before = ink(page)
    page.get_by_role("button", name="Front").click()  # edge on, a slab is only a line
    assert ink(page) != before


def test_the_arrow_keys_turn_the_part(page, desk):
    ready(page, desk, mesh=slab())
    before = ink(page)
    page.locator("canvas").press("ArrowLeft")
    assert ink(page) != before


def test_a_row_that_is_pointed_at_picks_its_faces_out(page, desk):
    ready(page, desk, mesh=slab())
    before = ink(page)
    page.locator("#top-face").focus()
    assert ink(page) != before


def test_a_click_on_a_motion_marks_its_line_in_the_text(page, desk):
    ready(page, desk, mesh=slab(), paths=PATHS)
    page.get_by_role("button", name="Top").click()
    box = page.locator("canvas").bounding_box()
    page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    assert page.locator(".program-line-now").get_attribute("id") == "L5"


def test_a_line_of_the_text_draws_its_motion_thick(page, desk):
    ready(page, desk, mesh=slab(), paths=PATHS)
    before = ink(page)
    page.get_by_role("link", name="5").click()
    assert ink(page) != before


def test_the_key_names_every_tool(page, desk):
    viewer = ready(page, desk, mesh=slab(), paths=PATHS)
    assert viewer.locator(".viewer-key").inner_text().split() == ["rapid", "T1"]


def test_the_slider_says_up_to_which_line_is_drawn(page, desk):
    viewer = ready(page, desk, mesh=slab(), paths=PATHS)
    viewer.locator("[data-scrub]").press("Home")
    assert viewer.locator("[data-scrub-bar] output").inner_text() == "4"


def test_part_and_blank_stand_where_the_setup_has_them(page, desk):
    """Turned about X with the zero on the corner that is then left, back, top: Y and Z change their signs."""
    placement = "1 0 0 0 -1 0 0 0 -1 0 0 -2"
    viewer = ready(page, desk, mesh=slab(), paths=PATHS, placement=placement, blank="-1 -2 -3 41 32 4")
    assert viewer.get_attribute("data-part-box") == "0.000 -30.000 -2.000 40.000 0.000 -2.000"
    assert viewer.get_attribute("data-blank-box") == "-1.000 -32.000 -6.000 41.000 2.000 1.000"
    assert viewer.get_attribute("data-path-box") == "0.000 15.000 0.000 40.000 15.000 0.000"


def click(page, right=0.0, up=0.0):
    """At the middle of the picture, or beside it by these shares of its height."""
    box = page.locator("canvas").bounding_box()
    page.mouse.click(box["x"] + box["width"] / 2 + right * box["height"], box["y"] + (0.5 - up) * box["height"])


def test_a_click_on_the_part_says_what_the_face_is(page, desk):
    desk.answers["/faces"] = b'{"faces": ["", "2: flat face."]}'
    viewer = ready(page, desk, mesh=slab(), faces_url="/faces")
    page.get_by_role("button", name="Top").click()
    click(page)
    viewer.get_by_text("2: flat face.").wait_for()
    assert viewer.get_attribute("data-picked") == "1"
    assert "row-picked" in page.locator("#top-face").get_attribute("class")


def test_two_picks_are_measured(page, desk):
    """The slab is 40 × 30 mm and seen from above with its corners drawn on: near enough to one is at it."""
    viewer = ready(page, desk, mesh=slab())
    page.get_by_role("button", name="Top").click()
    page.get_by_role("button", name="Measure").click()
    frame, seen = page.locator("canvas").bounding_box(), viewer.get_attribute("data-scale")
    pixels = float(seen)
    x, y = frame["x"] + frame["width"] / 2, frame["y"] + frame["height"] / 2
    page.mouse.click(x - 20 * pixels + 3, y - 15 * pixels + 3)
    page.mouse.click(x + 20 * pixels - 3, y + 15 * pixels - 3)
    viewer.get_by_text("50.000 mm apart; along the axes 40.000 mm 30.000 mm 0.000 mm.").wait_for()


def test_a_cut_leaves_away_what_is_in_front_of_it(page, desk):
    viewer = ready(page, desk, mesh=slab())
    before = ink(page)
    page.get_by_role("button", name="Cut open").click()
    assert viewer.locator("[data-section-bar] output").inner_text() == "Y 15.000 mm"
    assert ink(page) != before
    page.get_by_role("button", name="Cut open").click()
    assert ink(page) == before


def test_the_material_that_a_cut_goes_through_is_filled_and_a_hollow_is_not(page, desk):
    viewer = ready(page, desk, mesh=hollow_block())
    page.get_by_role("button", name="Front").click()
    page.get_by_role("button", name="Cut open").click()
    filled = page.evaluate("getComputedStyle(document.documentElement).getPropertyValue('--cut').trim()")
    picture = np.asarray(Image.open(io.BytesIO(ink(page))).convert("RGB")).astype(int)
    is_filled = np.abs(picture - ImageColor.getrgb(filled)).max(axis=2) <= 3
    millimetre = float(viewer.get_attribute("data-scale"))
    y, x = (size // 2 for size in is_filled.shape)
    wall, half = round(7.5 * millimetre), round(4 * millimetre)
    assert is_filled[y - wall - 8 : y - wall + 8, x - half : x + half].mean() > 0.4  # between the lines of the hatching
    assert not is_filled[y - half : y + half, x - half : x + half].any()


def test_the_part_is_shown_as_it_stands_in_a_setup(page, desk):
    ways = [{"label": "Setup 2", "up": "0 0 -1", "right": "1 0 0"}]
    ready(page, desk, mesh=slab(), orientations=ways)
    before = ink(page)
    page.get_by_role("button", name="Setup 2").click()
    assert ink(page) != before
    page.get_by_role("button", name="Fit").click()
    assert ink(page) == before


MARKS = [
    {"name": "moved", "letter": "M", "word": "moved", "count": 0, "new": [], "old": []},
    {"name": "changed", "letter": "C", "word": "changed", "count": 1, "new": [1], "old": []},
    {"name": "gone", "letter": "G", "word": "gone", "count": 1, "new": [], "old": [1]},
]


def compared(page, desk):
    desk.answers["/old"] = slab(width=20.0)
    return ready(page, desk, mesh=slab(), marks=MARKS, old_mesh_url="/old", old_shift="50 0 0")


def test_what_differs_between_two_models_is_coloured_until_its_button_is_pressed(page, desk):
    compared(page, desk)
    before = ink(page)
    page.get_by_role("button", name="changed").click()
    assert ink(page) != before


def test_the_older_model_lies_where_the_newer_one_does(page, desk):
    assert compared(page, desk).get_attribute("data-old-box") == "50.000 0.000 0.000 70.000 30.000 0.000"


def test_a_way_to_differ_that_nothing_does_has_no_button(page, desk):
    viewer = compared(page, desk)
    assert viewer.locator("button[data-mark]").count() == 2 and "moved\n0" in viewer.inner_text()


def test_a_path_alone_offers_no_part_to_hide(page, desk):
    ready(page, desk, paths=PATHS)
    assert not page.get_by_role("button", name="Part", exact=True).is_visible()
    assert page.get_by_role("button", name="Rapids").is_visible()


def test_a_part_that_is_not_read_yet_is_said_in_words(page, desk):
    viewer = shown(page, desk)
    viewer.get_by_text("There is no picture yet").wait_for()


def test_a_damaged_picture_is_said_in_words(page, desk):
    viewer = shown(page, desk, mesh=slab()[:60])
    viewer.get_by_text("The picture could not be loaded").wait_for()


def test_without_scripts_the_words_stay(chromium, desk):
    desk.page("/", PAGE, mesh_url="/mesh")
    page = chromium.new_page(java_script_enabled=False, base_url=desk.address)
    page.goto("/")
    assert "needs a browser with scripts" in page.locator("[data-viewer]").inner_text()
    page.close()


SLOWLY = """async () => {
  const own = window.requestAnimationFrame;
  window.requestAnimationFrame = (act) => own((now) => act(20 * now));  // a picture seems to take twenty times as long
  const canvas = document.querySelector(".viewer-stage canvas");
  const fine = canvas.width;
  for (let n = 0; n < 8; n += 1) {
    canvas.dispatchEvent(new KeyboardEvent("keydown", { key: "ArrowLeft", bubbles: true }));
    await new Promise((done) => own(done));
  }
  window.requestAnimationFrame = own;
  return [fine, canvas.width, canvas.clientWidth];
}"""


def test_a_movement_that_is_too_slow_is_drawn_less_fine_until_it_rests(page, desk):
    ready(page, desk, mesh=slab())
    fine, moving, width = page.evaluate(SLOWLY)
    assert moving == width < fine
    page.locator(f"canvas[width='{fine}']").wait_for()


def test_a_long_path_is_drawn_whole_again_when_it_rests(page, desk):
    way = [(i % 200 / 5.0, i // 200 / 5.0, 0.0) for i in range(21_000)]
    ready(page, desk, mesh=slab(), paths=path_bytes((5, MotionKind.FEED, 1, way)))
    before = ink(page)
    back = SLOWLY.replace("ArrowLeft", "ArrowRight")
    fine, *_ = page.evaluate(SLOWLY)
    page.evaluate(back)
    page.locator(f"canvas[width='{fine}']").wait_for()
    assert ink(page) == before
