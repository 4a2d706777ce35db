"""Every fragment and base page, empty, full, with long names and errors: nothing fails, leaks or runs inline."""

import re
from datetime import UTC, datetime
from html.parser import HTMLParser
from pathlib import Path
from types import SimpleNamespace

import pytest
from django import forms
from django.conf import settings
from django.core.paginator import Paginator
from django.template import TemplateDoesNotExist
from django.template.loader import get_template
from django.test import RequestFactory

from shopflow.people.refused_forms import RefusedForm, Typed

TEMPLATES = Path(settings.BASE_DIR) / "shopflow" / "templates"
MARKED = "<script>alert(1)</script>"
LONG = f"Manifold plate, revision F, as drawn by {'Northmoor' * 12} {MARKED}"
AT = datetime(2026, 11, 24, 9, 30, tzinfo=UTC)


class NoteForm(forms.Form):
    reason = forms.CharField(label=LONG, help_text=LONG)
    drawing = forms.FileField(required=False)
    agreed = forms.BooleanField(required=False)


def thing(**values):
    return SimpleNamespace(**values)


def finding(weight, decision=None):
    return thing(
        pk=1, code="spindle-stopped", weight=weight, message=LONG, mend=LONG, lines="212–230", line_url="#L212",
        tool="T4", measured=0, limit=100, unit="rpm", limit_from=LONG, decision=decision,
    )  # fmt: skip


def work(**values):
    return thing(**{"pk": 3, "unfinished": False, "percent": 0, "step": "", "attempts": 1, "error": "", **values})


UNMET = thing(text=LONG, met=False, reason=LONG, mend="/mend", mend_text=LONG)
MET = thing(text=LONG, met=True, reason="", mend="", mend_text="")
DECISION = thing(text=LONG, reason=LONG, by=LONG, at=AT)
CELL = thing(label="Customer", value=LONG, kind="wide")
BAD_FORM = NoteForm({"reason": ""})

MARKS = [
    {"name": name, "letter": "C", "word": LONG, "count": n, "new": [1][:n], "old": []} for n, name in enumerate("ab")
]
MARKED_FACES = {"mesh_url": "/mesh", "old_mesh_url": "/old", "old_shift": "0 0 0", "marks": MARKS}

CASES = {
    "_kept.html": [{}, {"user": thing(pk=7, is_authenticated=True)}],
    "_conditions.html": [{}, {"conditions": [MET, UNMET]}, {"empty_text": LONG}],
    "_work.html": [
        {"work": work(unfinished=True)},
        {"work": work(unfinished=True, percent=42, step=LONG, attempts=2), "work_url": "/work/3"},
        {"work": work(error=LONG), "retry_url": "/retry"},
        {"work": work(), "done_text": LONG},
    ],
    "_history.html": [
        {},
        {"entries": [thing(at=AT, text=LONG, who=LONG, reason=LONG, url="/x")], "more_url": "/older"},
    ],
    "_empty.html": [{"title": LONG}, {"title": LONG, "text": LONG, "act_url": "/x", "act_text": LONG, "act_you": True}],
    "_traveler.html": [{}, {"cells": [CELL, thing(label="Job", value="J-1", kind="number")]}],
    "_stage.html": [
        {"stage": thing(key="plan", name="Plan", state=state, note=LONG)} for state in ("done", "now", "ahead")
    ],
    "_tabs.html": [{}, {"tabs": [thing(url="/x", text=LONG, current=True, count=0)], "tabs_label": LONG}],
    "_finding.html": [
        {"finding": finding("must-fix")},
        {"finding": finding("decide", DECISION)},
        {"finding": finding("note")},
    ],
    "_confirm.html": [
        {"ask": LONG, "action": "/x", "sure": LONG},
        {"ask": LONG, "action": "/x", "sure": LONG, "text": LONG, "confirm_form": BAD_FORM, "danger": True},
    ],
    "_pages.html": [{"page": Paginator(range(9), 3).page(number)} for number in (1, 2, 3)],
    "_crumbs.html": [{}, {"crumbs": [("/jobs/", LONG)]}],
    "_caution.html": [{}, {"cautions": [LONG]}],
    "_cautions.html": [{}],
    "_foot.html": [{}],
    "_head.html": [{}, {"user": thing(is_authenticated=True, get_full_name=LONG, role_names=[LONG])}],
    "_messages.html": [
        {"refused_form": RefusedForm("/x", [Typed("reason", LONG, LONG, LONG)])},
        {},
        {"messages": [thing(level_tag=tag) for tag in ("error", "warning", "success", "info")]},
    ],
    "_form.html": [
        {"form": NoteForm()},
        {"form": BAD_FORM, "legend": LONG, "submit": LONG, "submit_you": True, "cancel_url": "/x", "hx_target": "#x"},
    ],
    "_form_errors.html": [{"form": NoteForm()}, {"form": BAD_FORM}],
    "_field.html": [{"field": BAD_FORM["reason"], "kind": "plain", "label": LONG, "unit": "mm"}],
    "_meanwhile.html": [
        {"field": thing(name=LONG, form=thing(take_name=LONG)), "saved": LONG},
        {"field": BAD_FORM["reason"], "saved": LONG, "is_untouched": True},
    ],
    "_viewer.html": [
        {},
        {"mesh_url": "/mesh", "paths_url": "/paths", "placement": "1 0 0", "viewer_label": LONG},
        MARKED_FACES,
    ],
    "_run_chart.html": [
        {"chart_id": "c1", "chart_title": LONG},
        {"chart_id": "c1", "chart_title": LONG, "points": [thing(piece=1, value=12.01, text="12,01")], "low": 11.9},
    ],
    "_strip_key.html": [{}],
    "base.html": [{}, {"user": thing(is_authenticated=True, get_full_name=LONG, role_names=[])}],
    "base_aside.html": [{}],
    "station.html": [{}],
    "plain.html": [{}],
    "400.html": [{}],
    "403.html": [{}],
    "403_csrf.html": [{}],
    "404.html": [{}],
    "500.html": [{}],
}
DRAWN_BY_TAGS = {"_strip.html", "_skeleton.html"}  # tests/workflow/test_strips.py; the skeleton is in every page
ALL = [(name, number) for name, contexts in CASES.items() for number in range(len(contexts))]


def drawn(name, number):
    request = RequestFactory().get("/", {"q": MARKED})
    return get_template(name).render({"request": request, "shop_name": LONG, **CASES[name][number]}, request)


class Tags(HTMLParser):
    """Collects opening tags, and complains of those that are not closed where they should be."""

    LONELY = {"meta", "link", "input", "hr", "br", "img"}

    def __init__(self, html):
        super().__init__()
        self.attributes, self.open, self.wrong = [], [], []
        self.feed(html)
        self.close()

    def handle_starttag(self, tag, attrs):
        self.attributes += [(tag, key, value) for key, value in attrs]
        if tag not in self.LONELY:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.attributes += [(tag, key, value) for key, value in attrs]

    def handle_endtag(self, tag):
        if self.open and self.open[-1] == tag:
            self.open.pop()
        else:
            self.wrong.append(tag)


def test_every_shared_template_is_drawn_here():
    there = {path.name for path in TEMPLATES.glob("*.html")}
    assert there == set(CASES) | DRAWN_BY_TAGS


@pytest.mark.parametrize(("name", "number"), ALL)
def test_its_tags_are_closed_in_order(name, number):
    tags = Tags(drawn(name, number))
    assert (tags.open, tags.wrong) == ([], [])


@pytest.mark.parametrize(("name", "number"), ALL)
def test_what_people_typed_is_escaped(name, number):
    assert MARKED not in drawn(name, number)


@pytest.mark.parametrize(("name", "number"), ALL)
def test_it_holds_no_inline_code(name, number):
    html = drawn(name, number)
    inline = [key for _, key, value in Tags(html).attributes if key == "style" or re.match(r"on[a-z]+$|hx-on", key)]
    assert not inline and not re.search(r"<style|<script(?![^>]*\bsrc=)", html)


@pytest.mark.parametrize(("name", "number"), ALL)
def test_no_id_stands_twice(name, number):
    ids = [value for _, key, value in Tags(drawn(name, number)).attributes if key == "id"]
    assert len(ids) == len(set(ids))


@pytest.mark.parametrize(("name", "number"), ALL)
def test_names_for_screen_readers_point_at_something(name, number):
    tags = Tags(drawn(name, number))
    ids = {value for _, key, value in tags.attributes if key == "id"}
    pointers = ("aria-labelledby", "aria-describedby", "for")
    named = [part for _, key, value in tags.attributes if key in pointers for part in value.split()]
    # A field drawn without its form's other fields may still name them.
    assert name == "_field.html" or set(named) <= ids


def test_work_asks_again_while_it_is_unfinished():
    assert 'hx-get="/work/3"' in drawn("_work.html", 1)


@pytest.mark.parametrize("number", [2, 3])
def test_work_that_ended_asks_no_more(number):
    assert "hx-get" not in drawn("_work.html", number)


def test_failed_work_can_be_tried_again():
    assert 'action="/retry"' in drawn("_work.html", 2)


def test_a_missing_condition_offers_the_place_that_mends_it():
    assert 'href="/mend"' in drawn("_conditions.html", 1)


def test_a_condition_is_said_missing_or_done_in_words():
    html = drawn("_conditions.html", 1)
    assert "Missing:" in html and "Done:" in html


def test_a_form_with_errors_says_that_nothing_is_lost():
    assert "What you typed is still here" in drawn("_form.html", 1)


def test_every_page_defers_to_the_machine_builders_manual():
    for name in ("base.html", "station.html", "plain.html", "404.html", "500.html"):
        assert "machine builder" in drawn(name, 0)


def test_htmx_may_not_evaluate_code():
    assert '"allowEval": false' in drawn("base.html", 0)


def test_an_icon_that_we_have_not_drawn_is_a_plain_error():
    with pytest.raises(TemplateDoesNotExist):
        get_template("icons/nothing.svg")
