"""The run chart in a real browser."""

from types import SimpleNamespace

import pytest

from tests.browser_fixtures import eventually

pytestmark = pytest.mark.browser

PAGE = """{% extends "base.html" %}{% block title %}Chart{% endblock %}
{% block main %}{% include "_run_chart.html" %}{% endblock %}"""


def chart(page, desk, values, **limits):
    points = [SimpleNamespace(piece=i, value=value, text=str(value)) for i, value in enumerate(values, 1)]
    desk.page("/", PAGE, chart_id="c1", chart_title="Bore", unit="mm", points=points, **limits)
    page.goto("/")
    return page.locator("[data-chart]")


def drawn(page, desk, values, **limits):
    box = chart(page, desk, values, **limits)
    page.locator("[data-chart][data-ready=yes]").wait_for()
    return box.screenshot()


def test_the_limits_are_drawn_even_when_every_piece_is_good(page, desk):
    values = [12.00, 12.01, 11.99]
    assert drawn(page, desk, values) != drawn(page, desk, values, low=11.9, high=12.1)


def test_the_figures_stand_below_the_picture(page, desk):
    drawn(page, desk, [12.003])
    page.get_by_text("The figures").click()
    assert page.get_by_role("cell", name="12.003").is_visible()


def test_nothing_measured_draws_nothing(page, desk):
    box = chart(page, desk, [])
    assert box.locator("canvas").count() == 0


def test_the_chart_follows_the_width_of_the_page(page, desk):
    drawn(page, desk, [12.0, 12.1])
    page.set_viewport_size({"width": 390, "height": 900})
    eventually(page, "document.querySelector('canvas').getBoundingClientRect().width < 390")
