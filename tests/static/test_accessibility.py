"""The shared fragments against WCAG 2.1 A and AA, by axe-core, and the sizes that design asks for."""

import pytest

from shopflow.people.templatetags.ui import STAMPS
from shopflow.workflow.strips import Bead, BeadState, OpState, Strip, StripOp
from tests.people.test_fragments import CASES

pytestmark = pytest.mark.browser

PLAIN = ["_conditions", "_work", "_history", "_empty", "_traveler", "_stage", "_tabs", "_confirm", "_pages", "_crumbs"]
OTHERS = ["_caution", "_viewer", "_strip_key"]
PAGE = """{% extends base %}{% load strips ui %}{% block title %}All{% endblock %}
{% block heading %}All{% endblock %}{% block main %}
{% strip strip %}<ul class="findings">{% for finding in findings %}{% include "_finding.html" %}{% endfor %}</ul>
{% for kind in kinds %}{% stamp kind kind %}{% endfor %}
<div class="buttons"><a class="button button-you" href="#x">One</a><button class="button">Two</button>
<button class="button button-quiet">Three</button><button class="button button-danger">Four</button>
<button class="button button-small">Five</button><button class="target">Six</button></div>
<div class="counter" data-counter data-less="one less" data-more="one more"><input aria-label="pieces"></div>
{% endblock %}"""


def all_states():
    ops = [StripOp(10 * i, f"op {i}", "mill", state, "/op/") for i, state in enumerate(OpState, 1)]
    beads = [Bead(i, "A", 4, state) for i, state in enumerate(BeadState)]
    return Strip(
        1, "J-1", "Bearing block", "Calder", "21 Nov", 4, "/j/", ops, beads, [1], "tool broken", True, "in run", 9
    )


def shown(page, desk, base, width):
    parts = [f"{{% include '{name}.html' %}}" for name in PLAIN + OTHERS]
    context = {key: value for name in PLAIN for key, value in CASES[f"{name}.html"][-1].items()}
    findings = [{**vars(case["finding"]), "pk": i} for i, case in enumerate(CASES["_finding.html"])]
    user = {"is_authenticated": True, "get_full_name": "Ruth Abernathy", "role_names": ["lead"]}
    source = PAGE.rpartition("{% endblock %}")[0] + "".join(parts) + "{% endblock %}"
    desk.page("/", source, base=base, kinds=sorted(STAMPS), strip=all_states(), findings=findings, user=user, **context)
    page.set_viewport_size({"width": width, "height": 900})
    page.goto("/")
    page.locator("[data-counter] button").first.wait_for()


@pytest.mark.parametrize("width", [1440, 390])
def test_axe_finds_nothing_in_the_fragments(page, desk, width, accessibility_problems):
    shown(page, desk, "base.html", width)
    assert accessibility_problems(page) == []


def test_axe_finds_nothing_on_an_error_page(page, desk, accessibility_problems):
    desk.page("/", "{% extends '404.html' %}")
    page.goto("/")
    assert accessibility_problems(page) == []


@pytest.mark.parametrize("width", [1440, 390])
def test_long_names_never_make_the_page_wider_than_the_screen(page, desk, width):
    shown(page, desk, "base.html", width)
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_everything_to_touch_on_a_station_page_is_at_least_44_pixels_high(page, desk):
    shown(page, desk, "station.html", 390)
    small = page.evaluate(
        """() => [...document.querySelectorAll("button, .button, .target, .nav a, summary, .field-check label, " +
            "input:not([type=hidden], [type=checkbox])")]
        .filter(e => e.checkVisibility() && e.getBoundingClientRect().height < 44).map(e => e.outerHTML.slice(0, 90))"""
    )
    assert small == []


def test_the_keyboard_shows_where_it_is(page, desk):
    shown(page, desk, "base.html", 1440)
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    assert page.evaluate("getComputedStyle(document.activeElement).outlineWidth") == "3px"
