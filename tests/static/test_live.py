"""The change counter in a real browser: only what changed is fetched, and a lost connection is said in words."""

import pytest
from playwright.sync_api import expect

from shopflow.workflow.strips import OpState, Strip, StripOp

pytestmark = pytest.mark.browser

PAGE = """{% extends "base.html" %}{% load strips %}{% block title %}Home{% endblock %}{% block main %}
<div id="strips" class="strips" data-changes-url="/changes" data-since="3"
  data-strip-url="/strips/0/" data-list="#strips">
{% for s in shown %}{% strip s %}{% endfor %}</div>
<p id="other" hx-get="/other" hx-trigger="shopflow:changed from:body">old</p>{% endblock %}"""


def strip(number, title):
    return Strip(number, f"J-{number}", title, url=f"/jobs/{number}/")


def changed_once(desk, *strips):
    """The counter moves from 3 to 4, and these strips with it."""
    news = {"counter": 4, "strips": list(strips)}
    desk.answers["/changes"] = lambda query: news if query["since"] == ["3"] else (204, "")


def at_home(page, desk, *strips):
    desk.page("/", PAGE, shown=list(strips))
    desk.answers["/other"] = "new"
    page.goto("/")


def asked(desk, path):
    return [address for address in desk.asked if address.startswith(path)]


def test_a_changed_strip_is_fetched_by_itself(page, desk):
    changed_once(desk, 2)
    desk.page("/strips/2/", "{% load strips %}{% strip s %}", s=strip(2, "after"))
    at_home(page, desk, strip(1, "other"), strip(2, "before"))
    page.locator("#strip-2").get_by_text("after").wait_for()
    assert len(asked(desk, "/strips/")) == 1


def test_a_new_job_brings_the_whole_list(page, desk):
    changed_once(desk, 9)
    at_home(page, desk, strip(1, "other"))
    page.locator("#strip-1").wait_for()
    desk.page("/", PAGE, shown=[strip(1, "other"), strip(9, "brand new")])
    page.locator("#strip-9").get_by_text("brand new").wait_for()
    assert asked(desk, "/strips/") == []


def test_a_page_of_one_job_fetches_its_own_strip_and_no_other(page, desk):
    changed_once(desk, 2, 9)
    desk.page("/strips/2/", "{% load strips %}{% strip s %}", s=strip(2, "after"))
    desk.page("/", PAGE.replace('data-list="#strips"', ""), shown=[strip(2, "before")])
    desk.answers["/other"] = "new"
    page.goto("/")
    page.locator("#strip-2").get_by_text("after").wait_for()
    assert asked(desk, "/strips/") == ["/strips/2/"]


def test_the_next_question_starts_from_the_last_answer(page, desk):
    changed_once(desk)
    with page.expect_request("**/changes?since=4"):
        at_home(page, desk, strip(1, "other"))
    assert asked(desk, "/changes")[0] == "/changes?since=3"


def test_other_fragments_hear_of_the_change(page, desk):
    changed_once(desk)
    at_home(page, desk, strip(1, "other"))
    expect(page.locator("#other")).to_have_text("new")


def test_a_counter_that_does_not_answer_is_said_in_words(page, desk):
    desk.answers["/changes"] = (404, "")
    at_home(page, desk, strip(1, "other"))
    page.get_by_text("Not connected, trying again").wait_for()


def test_the_words_go_when_the_counter_answers_again(page, desk):
    desk.answers["/changes"] = (404, "")
    at_home(page, desk, strip(1, "other"))
    page.get_by_text("Not connected, trying again").wait_for()
    desk.answers["/changes"] = (204, "")
    page.locator("#connection").wait_for(state="hidden")


def test_a_strip_wider_than_the_screen_opens_where_the_work_is(page, desk):
    states = [OpState.DONE] * 20 + [OpState.NOW] + [OpState.TODO] * 9
    ops = [StripOp(10 * i, "mill", "mill", state) for i, state in enumerate(states, 1)]
    desk.answers["/changes"] = (204, "")
    at_home(page, desk, Strip(1, "J-1", "long", url="/j/", ops=ops))
    page.locator(".strip-run[data-started]").wait_for()
    expect(page.locator(".strip-op-now")).to_be_in_viewport()


def test_an_ended_session_loads_the_page_again_which_leads_to_the_log_in(page, desk):
    at_home(page, desk, strip(1, "other"))
    desk.answers["/changes"] = (403, "")
    desk.answers["/"] = "<h1>Log in</h1>"
    page.get_by_text("Log in").wait_for()
