"""Intake and plan in a real browser: a STEP model of the folder beside the repository, from order to approved plan."""

import csv
from pathlib import Path

import pytest
from playwright.sync_api import expect

from tests.browser.people import let_in
from tests.services import ROOT

MODEL = ROOT.parent / "shared" / "models" / "featuretype.STEP"

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(not MODEL.exists(), reason="the folder of real models is not beside the repository"),
]


def password_of(username):
    with Path(ROOT / "seed_data" / "people.csv").open() as handle:
        return next(row["password"] for row in csv.DictReader(handle) if row["username"] == username)


def log_in(page, username):
    page.goto("/people/log-in/")
    page.get_by_label("User name").fill(username)
    page.get_by_label("Password", exact=True).fill(password_of(username))
    page.get_by_role("button", name="Log in").click()
    page.wait_for_url("**/")


def take_in(page, part):
    page.goto("/jobs/new/")
    page.get_by_label("New customer").fill("Harrow Valve")
    page.get_by_label("Part number").fill(part)
    page.get_by_label("Revision").fill("B")
    page.get_by_label("Quantity").fill("6")
    page.get_by_label("Due").fill("2031-05-20")
    page.get_by_label("the model governs").check()
    page.get_by_role("button", name="Take it in").click()
    page.get_by_role("heading", name="The order").wait_for()
    return page.url.rstrip("/").rsplit("/", 1)[-1]


def send_model(page, number):
    page.goto(f"/jobs/{number}/intake/")
    page.get_by_label("The model (STEP)").set_input_files(MODEL)
    page.get_by_role("button", name="Send").first.click()
    expect(page.locator("#model")).to_contain_text("190.5", timeout=120_000)  # cm³, as in the folder's facts.csv


def test_a_model_goes_from_upload_to_an_approved_plan(new_page, live_shop, sessions, accessibility_problems, picture):
    page = let_in(new_page(), live_shop, sessions["tomasz"])
    number = take_in(page, "HV-2207")
    send_model(page, number)
    expect(page.locator("[data-viewer]")).to_have_attribute("data-ready", "yes")
    assert accessibility_problems(page) == []
    picture(page, "intake")
    page.goto(f"/jobs/{number}/plan/")
    page.get_by_role("button", name="Propose a plan").click()
    expect(page.locator("#plan tbody").first).to_contain_text("saw the blanks")
    row = page.locator("tr", has_text="deburr").first
    row.get_by_role("link", name="Change").click()
    page.get_by_label("Minutes a piece").fill("3.25")
    page.get_by_role("button", name="Save the step").click()
    expect(page.locator("tr", has_text="deburr").first).to_contain_text("3.25")
    assert page.url.endswith(f"/jobs/{number}/plan/")
    page.get_by_role("link", name="setup 1").click()
    expect(page.locator("[data-viewer]")).to_have_attribute("data-ready", "yes")
    assert accessibility_problems(page) == []
    purpose = page.locator("#tools [name=purpose]")
    purpose.fill("the pocket's corners")
    picked = page.locator("#tools tbody tr").first
    tool = page.locator("#tools [name=tool] option", has_text=picked.locator("td").first.inner_text()).first
    page.locator("#tools [name=tool]").select_option(tool.get_attribute("value"))
    page.get_by_role("button", name="Pick", exact=True).click()
    expect(page.locator("#messages")).to_contain_text("is picked for this setup already")
    expect(purpose).to_have_value("the pocket's corners")
    expect(page.locator("[data-typed-for]")).to_be_hidden()
    page.get_by_label("X0 Y0 is at").select_option("part left back")
    page.get_by_role("button", name="Save the setup").click()
    expect(page.locator("#plan")).to_contain_text("X0 left side, Y0 back side, Z0 top of the finished part")
    page.get_by_role("button", name="Approve the plan as it is").click()
    expect(page.locator("#plan")).to_contain_text("It holds until something in the plan changes")
    assert accessibility_problems(page) == []
    picture(page, "plan")


def test_the_plan_is_made_without_scripts(new_page):
    page = new_page(width=390, java_script_enabled=False)
    log_in(page, "tomasz")
    page.goto("/jobs/new/")
    page.get_by_label("New customer").fill("Harrow Valve")
    page.get_by_label("Part number").fill("HV-2208")
    page.get_by_label("Revision").fill("A")
    page.get_by_label("Quantity").fill("1")
    page.get_by_label("Due").fill("2031-05-20")
    page.get_by_label("There is no model, because").fill("paper print")
    page.get_by_role("button", name="Take it in").click()
    number = page.url.rstrip("/").rsplit("/", 1)[-1]
    page.goto(f"/jobs/{number}/plan/")
    page.get_by_role("button", name="Propose a plan").click()
    page.locator("tr", has_text="deburr").get_by_role("link", name="Change").click()
    page.get_by_label("Title").fill("deburr by hand")
    page.get_by_role("button", name="Save the step").click()
    expect(page.locator("#plan")).to_contain_text("deburr by hand")
