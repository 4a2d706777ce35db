"""What a browser gets from the shop as make run serves it."""

import gzip
import re
import urllib.request

import pytest

from tests.browser_fixtures import WATCH_THE_POLICY, watch

pytestmark = pytest.mark.browser

LOG_IN = "/people/log-in/"


def test_the_log_in_page_keeps_the_policy_and_shows_no_accessibility_problem(page, accessibility_problems):
    page.goto(LOG_IN)
    assert accessibility_problems(page) == []


def test_the_log_in_page_fits_a_phone(new_page):
    page = new_page(width=390, height=844)
    page.goto(LOG_IN)
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


@pytest.mark.parametrize(
    ("what", "script"),
    [
        ("style", "document.body.setAttribute('style', 'color: red')"),
        ("script", "document.body.append(Object.assign(document.createElement('script'), {textContent: 'let a = 1'}))"),
    ],
)
def test_an_inline_part_of_a_page_is_refused_and_noticed(chromium, live_shop, what, script):
    context = chromium.new_context(base_url=live_shop.address)
    context.add_init_script(WATCH_THE_POLICY)
    page, troubles = context.new_page(), []
    watch(page, troubles)
    page.goto(LOG_IN)
    page.evaluate(script)
    page.wait_for_timeout(200)
    context.close()
    assert any(f"policy violated: {what}-src" in trouble for trouble in troubles)


def test_style_sheets_come_compressed_and_may_be_kept_for_ever(live_shop):
    with urllib.request.urlopen(live_shop.address + LOG_IN) as answer:
        address = re.search(r'href="(/static/[^"]+\.css)"', answer.read().decode())[1]
    asked = urllib.request.Request(live_shop.address + address, headers={"Accept-Encoding": "gzip"})
    with urllib.request.urlopen(asked) as answer:
        assert "immutable" in answer.headers["Cache-Control"]
        assert answer.headers["Content-Encoding"] == "gzip"
        assert gzip.decompress(answer.read())
