"""One job as the roles would take it, from a customer's STEP file that nobody here drew to shipped and closed.

The model is ../shared/models/featuretype.STEP (MIT, see ORIGIN.md beside it: 127.0 x 63.5 x 34.925 mm, 190531.995 mm³);
the program is our own (three_sides.nc). Papers are read by readers of other people's making: pypdf and zxing.
"""

import re
from pathlib import Path

import pytest

from tests.browser.people import PASSWORD, let_in
from tests.browser.walking import (
    codes_of,
    is_sent,
    material_is_removed,
    measure,
    move_on,
    ops_of,
    press,
    receive_and_print,
    run_ops,
    send,
    ship_and_close,
    text_of,
)
from tests.browser_fixtures import eventually

HERE = Path(__file__).parent
MODEL = HERE.parents[2] / "shared" / "models" / "featuretype.STEP"
PROGRAM = HERE / "three_sides.nc"

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(not MODEL.exists(), reason="the folder ../shared/models is not here"),
]

BY_HAND = ("+Z", "+Y")
"""Sides on which hands finish what the program, which faces three sides, leaves of the part."""


class Walk:
    """The people of the shop, each in a browser of their own, and the job that they hand on."""

    def __init__(self, new_page, live_shop, sessions):
        self.sessions = sessions
        self.new_page, self.shop, self.pages, self.job = new_page, live_shop, {}, 0

    def __getattr__(self, role):
        """The page of the person with this role."""
        if role not in self.pages:
            self.pages[role] = let_in(self.new_page(), self.shop, self.sessions[role])
        return self.pages[role]


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
    move_on(page, walk.job, "on to the plan")


def plan(walk):
    page = walk.lead
    page.goto(f"/jobs/{walk.job}/plan/")
    send(page, "Propose a plan")
    page.wait_for_selector("text=Propose again")
    setups = page.eval_on_selector_all("a[href^='/jobs/setups/']", "links => [...new Set(links.map(a => a.pathname))]")
    for path in setups:
        settle(page, path, "T903")
    for up in BY_HAND:
        add_manual_setup(page, walk.job, up)
    name_a_length(page, walk.job)
    page.goto(f"/jobs/{walk.job}/plan/")
    send(page, "Approve the plan as it is")
    page.wait_for_selector("text=Approved")
    move_on(page, walk.job, "on to program review")
    return len(setups)


def settle(page, path, tool):
    """A person picks a tool of the crib for a setup: from then on its tools are theirs, and not the proposal's."""
    page.goto(path)
    names = page.locator("select[name=tool] option").all_inner_texts()
    page.select_option("select[name=tool]", label=next(name for name in names if name.startswith(tool)))
    page.fill("[name=purpose]", "the thread")
    send(page, "Pick")
    page.select_option("select[name=machine]", label="Test mill")
    send(page, "Save the setup")
    leave_out_what_has_no_tool(page, path)


def leave_out_what_has_no_tool(page, path):
    """What no tool of the crib does is done by hand: the plan does not go on while it waits for a tool."""
    page.goto(path)
    without = page.locator("#operations tr", has_text="no tool")
    while without.count():
        without.first.locator("th a").click()
        page.locator(".confirm > summary", has_text="Take this operation out").click()
        send(page, "Take it out")
        page.goto(path)


def add_manual_setup(page, job, up):
    page.goto(f"/jobs/{job}/plan/")
    send(page, "Add a setup")
    page.select_option("[name=up]", value=up)
    page.fill("[name=manual_reason]", "pockets and holes by hand on the manual mill")
    page.fill("[name=workholding]", "vise")
    page.fill("[name=stock_in]", "as it comes from the setup before")
    send(page, "Save the setup")


def name_a_length(page, job):
    page.goto(f"/jobs/{job}/characteristics/")
    for name, text in {"number": "1", "name": "length", "nominal": "127 mm", "plus_minus": "0.2"}.items():
        page.fill(f"[name=form-0-{name}]", text)
    steps = page.locator("[name=form-0-step] option").all_inner_texts()
    page.select_option("[name=form-0-step]", label=next(step for step in steps if "inspect" in step))
    gauges = page.locator("[name=form-0-gauge] option").all_inner_texts()
    page.select_option("[name=form-0-gauge]", label=next(gauge for gauge in gauges if gauge.startswith("C-01")))
    send(page, "Save the list")


def review_and_sign(walk):
    page = walk.lead
    page.goto(f"/programs/job/{walk.job}/upload/")
    page.set_input_files("[name=file]", PROGRAM)
    for box in page.locator("[name=setups]").all():
        box.check()
    page.get_by_role("button", name="Send the program").click()
    page.wait_for_url(re.compile(r"/programs/\d+/"))
    revision = page.url
    reviewer = walk.reviewer
    reviewer.goto(revision)
    material_is_removed(reviewer)
    decide_all(reviewer)
    reviewer.wait_for_selector("input[type=password]")
    reviewer.fill("input[type=password]", PASSWORD)
    send(reviewer, "Sign off")
    reviewer.wait_for_selector("text=Signed off")
    move_on(page, walk.job, "on to release")


def decide_all(page):
    """Accept every finding that waits for a decision, with a reason."""
    boxes = page.locator("input[type=checkbox][name=finding]").all()
    if not boxes:
        return
    for box in boxes:
        box.check()
    page.check("[name=verdict][value=accept]")
    page.fill("[name=reason]", "looked at, wanted as it is")
    press(page, page.locator(".review-decide button:not([type=button])"))


def release(walk):
    pdf = receive_and_print(walk.lead, walk.job, "H-4471")
    move_on(walk.lead, walk.job, "Release to the floor")
    return pdf


def check_traveler(pdf, setups):
    """The addresses of its ops; what it says of the job, and that a stop stands between its setups."""
    text = text_of(pdf)
    for words in ("Valve plate", "Brook Valves", "H-4471", "three_sides", "Test mill", "Caution", "M20 tap"):
        assert words.lower() in text.lower()
    assert text.count("STOP: turn the part over") == setups + len(BY_HAND) - 1
    codes = codes_of(pdf)
    assert sum("/papers/traveler/" in code for code in codes) == 1
    assert len(ops_of(codes)) == setups + len(BY_HAND) + 4
    return ops_of(codes)


def test_a_job_goes_from_a_step_file_to_shipped(new_page, live_shop, sessions):
    walk = Walk(new_page, live_shop, sessions)
    take_in(walk)
    read_model(walk)
    setups = plan(walk)
    review_and_sign(walk)
    addresses = check_traveler(release(walk), setups)
    watcher = walk.viewer
    watcher.goto("/")
    strip = watcher.locator(f"#strip-{walk.job}")
    assert "4 in saw" in strip.inner_text()
    run_ops(walk.machinist, addresses[:-2], 4)
    eventually(watcher, f"document.querySelector('#strip-{walk.job}').innerText.includes('4 in inspect')")
    measure(walk.inspector, "BV-88", {1: "127.05"})
    certificate = ship_and_close(walk.lead, walk.job)
    assert "4 pieces of this shipment were made and inspected to part BV-88, revision A" in certificate
    assert "H-4471" in certificate
    assert "all agree" in live_shop.manage("verify_records")
