"""Scanning a traveler's code in a real browser: by a scanner that types, and by a camera that is shown a film of it."""

import io
import json

import pytest
import segno
from PIL import Image

from tests.browser.people import let_in
from tests.browser_fixtures import WATCH_THE_POLICY, launch, watch

pytestmark = pytest.mark.browser

MAKE_PACKET = """
import json
from django.urls import reverse
from shopflow.floor import actions
from shopflow.papers.common import address
from shopflow.people.models import User
from tests.floor.objects import a_lot, op
lead = User.objects.get(username="t_lead")
lot = a_lot(lead)
packet = actions.make_packet(lot.job, by=lead, content_hash="0" * 64)
first = op(lot, 10)
code, opened = address("floor:scan", packet.pk, first.pk), reverse("floor:op", args=[lot.pk, first.pk])
print(json.dumps({"path": code.partition("//")[2].partition("/")[2], "op": opened}))
"""


@pytest.fixture(scope="module")
def traveler(live_shop, sessions):
    """The address that a code on a traveler carries, and the op page that it opens."""
    made = json.loads(live_shop.python(MAKE_PACKET).splitlines()[-1])
    return {"code": f"{live_shop.address}/{made['path']}", "op": made["op"]}


@pytest.fixture(scope="module")
def film(tmp_path_factory, traveler):
    """A code as a camera sees it: a little askew, grey, compressed; one picture again and again (Motion JPEG)."""
    drawn = io.BytesIO()
    segno.make(traveler["code"], error="m", micro=False).save(drawn, kind="png", scale=5, border=4)
    code = Image.open(drawn).convert("L").rotate(9, expand=True, fillcolor=255, resample=Image.Resampling.BICUBIC)
    scene = Image.new("L", (640, 480), 150)
    scene.paste(code.point(lambda value: 40 + value * 170 // 255), ((640 - code.width) // 2, (480 - code.height) // 2))
    frame = io.BytesIO()
    scene.convert("RGB").save(frame, "JPEG", quality=70)
    path = tmp_path_factory.mktemp("film") / "code.mjpeg"
    path.write_bytes(frame.getvalue() * 30)
    return path


@pytest.fixture
def let_in_a_machinist(live_shop, sessions):
    return lambda page: let_in(page, live_shop, sessions["machinist"])


@pytest.fixture
def page_with_camera(playwright, live_shop, film):
    """A page in a Chromium of its own, whose only camera shows the film."""
    camera = ["--use-fake-device-for-media-stream", "--use-fake-ui-for-media-stream"]
    browser = launch(playwright, *camera, f"--use-file-for-fake-video-capture={film}")
    context = browser.new_context(base_url=live_shop.address, viewport={"width": 390, "height": 844})
    context.add_init_script(WATCH_THE_POLICY)
    page, troubles = context.new_page(), []
    watch(page, troubles)
    yield page
    browser.close()
    assert troubles == []


def test_a_scanner_that_types_opens_the_op_from_wherever_the_station_stands(new_page, let_in_a_machinist, traveler):
    page = let_in_a_machinist(new_page(width=1024, height=768))
    page.goto("/floor/station/deburr/")
    page.wait_for_selector("[data-started]", state="attached")
    page.keyboard.type(traveler["code"])
    page.keyboard.press("Enter")
    page.wait_for_url(f"**{traveler['op']}")


def test_the_camera_opens_the_op_of_the_code_it_sees(
    page_with_camera, let_in_a_machinist, traveler, picture, accessibility_problems
):
    page = let_in_a_machinist(page_with_camera)
    page.goto("/floor/")
    picture(page, "stations-390")
    assert accessibility_problems(page) == []
    page.get_by_role("button", name="Camera").click()
    page.wait_for_url(f"**{traveler['op']}")
