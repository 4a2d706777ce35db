"""One job as the roles would take it, from a customer's STEP file that nobody here drew to shipped and closed.

The model is ../shared/models/featuretype.STEP (MIT, see ORIGIN.md beside it: 127.0 x 63.5 x 34.925 mm, 190531.995 mm³);
the program is our own (three_sides.nc). Papers are read by readers of other people's making: pypdf and zxing.
"""

import io
import re
from pathlib import Path

import pypdf
import pytest
import zxingcpp

from tests.browser.people import PASSWORD, log_in, make_shop
from tests.browser_fixtures import eventually
from tests.pdf import pictures_of

HERE = Path(__file__).parent
MODEL = HERE.parents[2] / "shared" / "models" / "featuretype.STEP"
PROGRAM = HERE / "three_sides.nc"

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(not MODEL.exists(), reason="the folder ../shared/models is not here"),
]


def is_sent(response):
    return response.request.method == "POST"


def send(page, words):
    """Press a button that sends something, and wait until the shop has answered and the page is there."""
    with page.expect_response(is_sent):
        page.get_by_role("button", name=words).click()
    page.wait_for_load_state()


class Walk:
    """The people of the shop, each in a browser of their own, and the job that they hand on."""

    def __init__(self, new_page, live_shop):
        make_shop(live_shop)
        self.new_page, self.shop, self.pages, self.job = new_page, live_shop, {}, 0

    def __getattr__(self, role):
        """The page of the person with this role."""
        if role not in self.pages:
            self.pages[role] = log_in(self.new_page(), role)
        return self.pages[role]

    def open_job(self, page):
        page.goto(f"/job/{self.job}/")
        return page

    def move_on(self, page, words):
        self.open_job(page)
        send(page, words)
        page.wait_for_selector("text=The job moved on.")


def take_in(walk):
    page = walk.lead
    page.goto("/jobs/new/")
    for name, text in {
        "new_customer": "Brook Valves", "order_number": "PO-7781", "part_number": "BV-88", "revision": "A",
        "part_name": "Valve plate", "quantity": "4", "due_on": "2031-12-18",
    }.items():  # fmt: skip
        page.fill(f"[name={name}]", text)
    page.select_option("[name=material]", label="Test aluminium")
    page.check("[name=governing][value=model]")
    send(page, "Take it in")
    page.wait_for_url(re.compile(r"/job/\d+/"))
    walk.job = int(re.search(r"/job/(\d+)/", page.url)[1])


def read_model(walk):
    page = walk.lead
    page.goto(f"/jobs/{walk.job}/intake/")
    page.set_input_files("form:has([name=kind][value=model]) [name=file]", MODEL)
    with page.expect_response(is_sent):
        page.locator("form:has([name=kind][value=model]) button").click()
    page.wait_for_selector("text=STEP AP214", timeout=90_000)
    said = page.inner_text("main")
    assert "127.000 × 63.500 × 34.925" in said
    assert "inch" in said
    page.wait_for_selector("[data-viewer] canvas")
    walk.move_on(page, "on to the plan")


def plan(walk):
    page = walk.lead
    page.goto(f"/jobs/{walk.job}/plan/")
    send(page, "Propose a plan")
    page.wait_for_selector("text=Propose again")
    setups = page.eval_on_selector_all("a[href^='/jobs/setups/']", "links => [...new Set(links.map(a => a.pathname))]")
    for path in setups:
        settle(page, path, "T903")
    name_a_length(page, walk.job)
    page.goto(f"/jobs/{walk.job}/plan/")
    send(page, "Approve the plan as it is")
    page.wait_for_selector("text=Approved")
    walk.move_on(page, "on to program review")
    return len(setups)


def settle(page, path, tool):
    """A person picks a tool of the crib for a setup: from then on its tools are theirs, and not the proposal's."""
    page.goto(path)
    page.select_option("select[name=machine]", label="Test mill")
    send(page, "Save the setup")
    page.goto(path)
    names = page.locator("select[name=tool] option").all_inner_texts()
    page.select_option("select[name=tool]", label=next(name for name in names if name.startswith(tool)))
    page.fill("[name=purpose]", "the thread")
    send(page, "Pick")


def name_a_length(page, job):
    page.goto(f"/jobs/{job}/characteristics/")
    for name, text in {"number": "1", "name": "length", "nominal": "127 mm", "plus_minus": "0.2"}.items():
        page.fill(f"[name=form-0-{name}]", text)
    steps = page.locator("[name=form-0-step] option").all_inner_texts()
    page.select_option("[name=form-0-step]", label=next(step for step in steps if "inspect" in step))
    send(page, "Save the list")


def review_and_sign(walk):
    page = walk.lead
    page.goto(f"/programs/job/{walk.job}/upload/")
    page.set_input_files("[name=file]", PROGRAM)
    for box in page.locator("[name=setups]").all():
        box.check()
    send(page, "Send the program")
    page.wait_for_url(re.compile(r"/programs/\d+/"))
    revision = page.url
    reviewer = walk.reviewer
    reviewer.goto(revision)
    reviewer.wait_for_selector("input[type=password]", timeout=60_000)
    decide_all(reviewer)
    reviewer.fill("input[type=password]", PASSWORD)
    send(reviewer, "Sign off")
    reviewer.wait_for_selector("text=Signed off")
    walk.move_on(page, "on to release")


def decide_all(page):
    """Accept every finding that waits for a decision, with a reason."""
    boxes = page.locator("input[type=checkbox][name=finding]").all()
    if not boxes:
        return
    for box in boxes:
        box.check()
    page.fill("[name=reason]", "looked at, wanted as it is")
    send(page, "Accept")


def release(walk):
    page = walk.open_job(walk.lead)
    page.check("[name=received]")
    page.fill("[name=heat_number]", "H-4471")
    with page.expect_response(is_sent):
        page.locator("form:has([name=received]) button").click()
    walk.open_job(page)
    send(page, "Make the packet")
    page.wait_for_selector("a:has-text('Traveler (PDF)')", timeout=90_000)
    pdf = page.request.get(page.get_attribute("a:has-text('Traveler (PDF)')", "href")).body()
    walk.move_on(page, "Release to the floor")
    return pdf


def check_traveler(pdf, walk, setups):
    text = "\n".join(sheet.extract_text() for sheet in pypdf.PdfReader(io.BytesIO(pdf)).pages)
    for words in ("Valve plate", "Brook Valves", "H-4471", "three_sides", "Test mill", "Caution", "M20 tap"):
        assert words.lower() in text.lower()
    assert text.count("STOP: turn the part over") == setups - 1
    codes = {code.text for code in zxingcpp.read_barcodes(pictures_of(pdf)[0])}
    ops = {code for code in codes if "/floor/packet/" in code}
    assert len(ops) == setups + 4
    assert any(code.endswith(f"/job/{walk.job}/") for code in codes)
    return sorted(ops, key=lambda code: int(code.rstrip("/").rpartition("/")[2]))


def run_ops(walk, addresses):
    """The machinist scans each op's code in turn, starts it, and counts its pieces good."""
    page = walk.machinist
    for address in addresses[:-2]:
        page.goto(address[address.index("/floor/") :])
        page.wait_for_selector("text=Not started")
        for box in page.locator("#op form [type=checkbox]").all():
            box.check()
        send(page, re.compile("^Start"))
        for words in ("First piece is good", "Sign the edge sheet"):
            if page.get_by_role("button", name=words).count():
                send(page, words)
        page.fill("[name=quantity] >> nth=0", "4")
        send(page, re.compile("^Count good"))
        send(page, re.compile("^Finish the op"))


def measure(walk):
    page = walk.inspector
    page.goto("/inspection/")
    page.locator("a.target", has_text="BV-88").click()
    cell = page.get_by_label("balloon 1, piece 1")
    cell.fill("127.05")
    cell.press("Tab")
    page.wait_for_selector("text=Everything required is measured and decided.")
    send(page, re.compile("^They pass"))
    page.wait_for_selector("text=Counted on to the next step.")


def ship_and_close(walk):
    page = walk.open_job(walk.lead)
    send(page, re.compile("^Ship$"))
    page.wait_for_selector("text=Shipped.")
    walk.move_on(page, "Close the job")
    assert "Every piece is accounted for." in page.inner_text(".gate")


def test_a_job_goes_from_a_step_file_to_shipped(new_page, live_shop):
    walk = Walk(new_page, live_shop)
    take_in(walk)
    read_model(walk)
    setups = plan(walk)
    review_and_sign(walk)
    addresses = check_traveler(release(walk), walk, setups)
    watcher = walk.viewer
    watcher.goto("/")
    strip = watcher.locator(f"#strip-{walk.job}")
    assert "4 in saw" in strip.inner_text()
    run_ops(walk, addresses)
    eventually(watcher, f"document.querySelector('#strip-{walk.job}').innerText.includes('4 in inspect')")
    measure(walk)
    ship_and_close(walk)
    assert "all agree" in live_shop.manage("verify_records")
