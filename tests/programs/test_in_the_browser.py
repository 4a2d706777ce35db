"""The review page in a real browser, over the demo's program with a generator's faults; decides nothing for good."""

import re

import numpy as np
import pytest
from playwright.sync_api import expect

from tests.browser_fixtures import watch, watched_context

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def reviewer(chromium, live_shop, sessions):
    """The reviewer's browser, the same for all tests here: what one page loaded is there for the next."""
    context = watched_context(chromium, base_url=live_shop.address)
    context.add_cookies([{"name": "sessionid", "value": sessions["ines"], "url": live_shop.address}])
    yield context
    context.close()


@pytest.fixture(scope="module")
def address(reviewer):
    """Of the review of the demo's faulty program, reached as a person would."""
    page = reviewer.new_page()
    page.goto("/jobs/?words=MB-31")
    job = page.locator("tr", has_text="MB-31").get_by_role("link").first.get_attribute("href")
    page.goto(f"/programs/job/{re.search('[0-9]+', job)[0]}/")
    found = page.get_by_role("link", name="O3101").get_attribute("href")
    page.goto(found)
    expect(page.locator(".finding").first).to_be_visible(timeout=60_000)
    page.close()
    return found


@pytest.fixture
def review(reviewer, address):
    """Open the demo's faulty program as its reviewer."""
    pages, troubles = [], []

    def open_review(width=1440, more=""):
        page = reviewer.new_page()
        pages.append(page)
        watch(page, troubles)
        page.set_viewport_size({"width": width, "height": 900})
        page.goto(address + more)
        expect(page.locator(".finding").first).to_be_visible(timeout=60_000)
        return page

    yield open_review
    for page in pages:
        page.close()
    assert troubles == []


def drawn(page):
    """Lowest and highest corners of part and cuts as the viewer drew them, mm in the setup's coordinates."""
    viewer = page.locator("[data-viewer][data-ready=yes]")
    boxes = [viewer.get_attribute(f"data-{name}-box", timeout=30_000).split() for name in ("part", "path")]
    return [np.array(box, float).reshape(2, 3) for box in boxes]


def test_the_cuts_of_each_work_offset_lie_in_the_part_as_it_stands_there(review):
    """Stood on its end (G55), the cross hole goes 53 mm down: deeper than the 40 mm that the part is high in G54."""
    depths = []
    for offset in (1, 2):
        part, cuts = drawn(review(more=f"?offset={offset}"))
        assert (part[0, :2] <= cuts[0, :2]).all() and (cuts[1, :2] <= part[1, :2]).all()
        assert part[0, 2] <= cuts[0, 2] < part[1, 2] <= cuts[1, 2]
        depths.append((float(part[0, 2]), float(cuts[0, 2])))
    assert depths == [(-40.0, -35.5), (-60.0, -53.456)]


def test_a_line_chosen_in_the_text_is_marked_where_the_tool_then_stands(review):
    page = review()
    drawn(page)
    page.locator("#L38 .at").click()
    expect(page.locator("[data-viewer]")).to_have_attribute("data-marked", "21.000 0.000 -12.000")


@pytest.mark.parametrize("width", [1440, 390])
def test_the_review_page_is_accessible_and_fits_its_screen(review, accessibility_problems, picture, width):
    page = review(width)
    picture(page, f"review-{width}")
    assert accessibility_problems(page) == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_keys_walk_the_findings_and_the_program_follows(review):
    page = review()
    page.keyboard.press("j")
    line = page.locator(".finding-now [data-line]").first.get_attribute("data-line")
    number = "".join(letter for letter in line.partition("\u2013")[0] if letter.isdigit())
    expect(page.locator(".program-line-now .at")).to_have_text(number)
    first = page.locator(".finding-now").get_attribute("id")
    page.keyboard.press("j")
    assert page.locator(".finding-now").get_attribute("id") != first
    page.keyboard.press("k")
    assert page.locator(".finding-now").get_attribute("id") == first


def test_keys_that_are_typed_into_a_field_stay_text(review):
    page = review()
    page.locator("[name=reason]").fill("")
    page.locator("[name=reason]").press_sequentially("jjk")
    assert page.locator(".finding-now").count() == 0
    assert page.locator("[name=reason]").input_value() == "jjk"


def test_a_decision_is_prepared_by_keys_alone(review):
    page = review()
    page.keyboard.press("n")
    page.keyboard.press("a")
    assert page.evaluate("document.activeElement.name") == "reason"
    assert page.locator(".finding-now [name=finding]").is_checked()
    assert page.locator("[name=verdict][value=accept]").is_checked()
    page.keyboard.press("Escape")
    assert page.evaluate("document.activeElement.classList.contains('finding-now')")


def test_one_key_marks_all_findings_of_the_same_setup_and_tool(review):
    page = review()
    page.keyboard.press("j")
    page.keyboard.press("Shift+X")
    together = page.locator(".findings:has(.finding-now) [name=finding]")
    assert page.locator("[name=finding]:checked").count() == together.count()


def test_a_refused_decision_keeps_what_was_marked_and_typed(review):
    page = review()
    page.keyboard.press("j")
    page.keyboard.press("x")
    page.locator("[name=reason]").fill("looks right to me")
    page.get_by_role("button", name="Decide", exact=True).click()
    expect(page.get_by_text("Say whether to accept, mend or send back.")).to_be_visible()
    assert page.locator("[name=finding]:checked").count() == 1
    assert page.locator("[name=reason]").input_value() == "looks right to me"


def test_a_jump_to_a_line_brings_it_into_view(review):
    page = review()
    page.get_by_placeholder("line").fill("12")
    page.get_by_role("button", name="Go").click()
    expect(page.locator("#L12")).to_have_class("program-line program-line-now")


def test_reasons_that_fit_the_finding_are_offered_and_one_fills_the_field(review):
    page = review()
    page.keyboard.press("n")
    page.keyboard.press("a")
    code = page.locator(".finding-now [name=finding]").get_attribute("data-code")
    shown = page.locator("[data-reasons] li:visible")
    assert shown.count() and all(code in row.get_attribute("data-codes").split() for row in shown.all())
    picked = shown.first.locator("button")
    text = picked.get_attribute("data-reason")
    picked.click()
    assert page.locator(".review-decide [name=reason]").input_value() == text
