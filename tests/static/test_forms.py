"""What the scripts do for forms, in a real browser."""

import pytest

pytestmark = pytest.mark.browser

PAGE = """{% extends "base.html" %}{% block title %}Form{% endblock %}{% block main %}
<form method="post" action="/send"><button>Send</button></form>
<form hx-post="/refused"><button>By part</button></form>
<table><tbody>
<tr><td><input class="entry" aria-label="7, piece 1"></td><td><input class="entry" aria-label="7, piece 2"></td></tr>
<tr><th>only text</th></tr>
<tr><td><input class="entry" aria-label="8, piece 1"></td><td><input class="entry" aria-label="8, piece 2"></td></tr>
</tbody></table>{% endblock %}"""


@pytest.fixture
def form_page(page, desk):
    desk.page("/", PAGE)
    page.goto("/")
    return page


def focused(page):
    return page.evaluate("document.activeElement.getAttribute('aria-label')")


def test_pressing_twice_sends_once(form_page, desk):
    desk.answers["/send"] = (204, "")  # the browser stays on the page, as it does while a slow answer is under way
    form_page.evaluate("for (let i = 0; i < 2; i += 1) document.querySelector('form[action] button').click()")
    form_page.wait_for_timeout(300)
    assert desk.asked.count("/send") == 1


def test_enter_goes_down_the_column_of_a_piece(form_page):
    form_page.get_by_label("7, piece 1").fill("12.01")
    form_page.keyboard.press("Enter")
    assert focused(form_page) == "8, piece 1"


def test_enter_at_the_foot_of_a_column_goes_to_the_next_piece(form_page):
    form_page.get_by_label("8, piece 1").press("Enter")
    assert focused(form_page) == "7, piece 2"


def test_enter_in_the_last_field_stays_there(form_page):
    form_page.get_by_label("8, piece 2").press("Enter")
    assert focused(form_page) == "8, piece 2"


def test_a_refused_part_is_said_in_words(page, desk, troubles):
    desk.page("/", PAGE)
    desk.answers["/refused"] = (409, "no")
    page.goto("/")
    page.get_by_role("button", name="By part").click()
    page.get_by_text("the server refused").wait_for()
    assert "409" in troubles.pop()  # htmx tells the console as well
