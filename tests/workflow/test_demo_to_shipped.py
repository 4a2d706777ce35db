"""The demo's manifold block as a newcomer takes it further by docs/first-five-minutes.md, and on to shipped.

In this folder because it runs behind the browser tests that look at the same job where the demo leaves it.
"""

import csv
import re

import pytest

from tests.browser.walking import codes_of, measure, move_on, ops_of, receive_and_print, run_ops, send, text_of
from tests.browser.walking import ship_and_close as ship
from tests.browser_fixtures import eventually
from tests.services import ROOT

pytestmark = pytest.mark.browser

PIECES = 6


def people():
    with (ROOT / "seed_data" / "people.csv").open() as handle:
        return {row["username"]: row for row in csv.DictReader(handle)}


def at_desk(page, username):
    page.goto("/people/log-in/")
    page.get_by_label("User name").fill(username)
    page.get_by_label("Password", exact=True).fill(people()[username]["password"])
    page.get_by_role("button", name="Log in").click()
    page.wait_for_url("**/")
    return page


def at_station(page, username):
    """Badge and PIN, as the page says it."""
    page.goto("/people/log-in/")
    page.get_by_role("link", name="At a machine or bench: badge and PIN").click()
    page.get_by_label("Badge").fill(people()[username]["badge"])
    page.get_by_label("Badge").press("Enter")
    page.get_by_label("PIN").fill(people()[username]["pin"])
    page.get_by_role("button", name="Log in").click()
    page.wait_for_url(lambda url: "log-in" not in url)
    return page


def accept_what_is_to_decide(page):
    """On the page of the program's first revision: both findings at once, with a reason that goes along."""
    page.get_by_role("link", name="26-0002").first.click()
    page.get_by_role("link", name="O3101").first.click()
    page.wait_for_selector("text=without coolant through it", timeout=60_000)
    marks = page.locator(".finding", has_text="T10").get_by_role("checkbox")
    assert marks.count() == 2
    for mark in marks.all():
        mark.check()
    page.get_by_label("accept").check()
    page.get_by_label("Reason").fill("flood reaches the hole from both sides")
    send(page, "Decide")


def take_the_edits(page):
    """What must be mended is mended by the edits that the review proposes; the address of the new revision."""
    page.wait_for_selector("#edits input[name=edit]", timeout=60_000)
    boxes = page.locator("#edits input[name=edit]")
    said = page.inner_text("#edits")
    assert boxes.count() == 2
    assert "G83" in said and "M00" in said
    for box in boxes.all():
        box.check()
    before = page.url
    page.get_by_role("button", name="Show what the marked ones change together").click()
    page.get_by_role("button", name="Take them into one new revision").click()
    page.wait_for_url(lambda url: url != before)
    return page.url


def sign(page, revision):
    page.goto(revision)
    page.wait_for_selector("input[type=password]", timeout=60_000)
    page.fill("input[type=password]", people()["ines"]["password"])
    send(page, "Sign off")
    page.wait_for_selector("text=Signed off")


def check_traveler(pdf, setups):
    """The addresses of its ops, read by other people's readers from the text and from the rendered page."""
    text = " ".join(text_of(pdf).split())
    for words in ("manifold block", "MB-31 rev C", "Quastrel Robotics", "O3101", "Alder", "CAUTION", "machine builder"):
        assert words in text
    assert text.count("STOP: turn the part over") == setups - 1
    assert "blow the chips out, stand the block on its end" in text
    ops = ops_of(codes_of(pdf))
    assert len(ops) == setups + 4
    return ops


def test_the_demos_job_goes_from_review_to_shipped_as_the_first_five_minutes_say(new_page, live_shop):
    lead = at_desk(new_page(), "odile")
    accept_what_is_to_decide(lead)
    revision = take_the_edits(lead)
    reviewer = at_desk(new_page(), "ines")
    sign(reviewer, revision)
    job = int(re.search(r"/job/(\d+)/", reviewer.get_by_role("link", name="26-0002").first.get_attribute("href"))[1])
    move_on(reviewer, job, "Programs are signed: on to release")
    ops = check_traveler(receive_and_print(lead, job), setups=2)
    move_on(lead, job, "Release to the floor")
    lead.goto("/")
    run_ops(at_station(new_page(), "ruben"), ops[:-2], PIECES)
    eventually(lead, f"document.querySelector('#strip-{job}').innerText.includes('6 in inspect')")
    measure(at_desk(new_page(), "yuki"), "MB-31", {1: "12.02", 2: "11.98"})
    certificate = ship(lead, job)
    assert "6 pieces of this shipment were made and inspected to part MB-31, revision C" in certificate
    assert "all agree" in live_shop.manage("verify_records")
