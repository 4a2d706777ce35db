"""Sending a file with its progress, in a real browser."""

import pytest
from django import forms
from playwright.sync_api import expect

pytestmark = pytest.mark.browser

PAGE = """{% extends "base.html" %}{% load ui %}{% block title %}Model{% endblock %}
{% block heading %}{{ heading }}{% endblock %}
{% block main %}{% include "_form.html" with action="/send" submit="Send" %}{% endblock %}"""


class ModelForm(forms.Form):
    note = forms.CharField(initial="as drawn")
    model = forms.FileField()


def wrong_form():
    form = ModelForm({"note": "typed by hand"}, {})
    form.add_error("model", "The file is empty. Export it again.")
    return form


def choose(page, name, content):
    page.locator("input[type=file]").set_input_files({"name": name, "mimeType": "", "buffer": content})


@pytest.fixture
def form_page(page, desk):
    desk.page("/", PAGE, form=ModelForm(), heading="Before")
    page.goto("/")
    page.locator("input[type=file]").set_input_files(
        {"name": "a.step", "mimeType": "", "buffer": b"ISO-10303-21;" * 99}
    )
    return page


def test_the_whole_file_and_the_other_fields_are_sent(form_page, desk):
    desk.answers["/send"] = "<body>done</body>"
    form_page.get_by_role("button", name="Send").click()
    form_page.get_by_text("done").wait_for()
    assert b"ISO-10303-21;" * 99 in desk.sent and b"as drawn" in desk.sent


def test_after_a_redirect_the_address_is_that_of_the_page_it_leads_to(form_page, desk):
    desk.answers["/send"] = (302, "/job/")
    desk.page("/job/", PAGE, form=ModelForm(), heading="After", messages=["The model is being read."])
    form_page.get_by_role("button", name="Send").click()
    form_page.get_by_text("The model is being read.").wait_for()
    assert form_page.url == f"{desk.address}/job/"


def test_a_redirects_page_is_fetched_once_so_that_its_messages_are_not_lost(form_page, desk):
    desk.answers["/send"] = (302, "/job/")
    desk.page("/job/", PAGE, form=ModelForm(), heading="After")
    form_page.get_by_role("button", name="Send").click()
    form_page.get_by_role("heading", name="After").wait_for()
    assert desk.asked.count("/job/") == 1


def test_a_refused_file_leaves_the_form_with_its_error_and_what_was_typed(form_page, desk):
    desk.page("/send", PAGE, form=wrong_form(), heading="Again")
    form_page.get_by_role("button", name="Send").click()
    form_page.get_by_text("The file is empty. Export it again.").wait_for()
    expect(form_page.get_by_label("Note")).to_have_value("typed by hand")


def test_the_form_that_came_back_can_be_sent_again(form_page, desk):
    desk.page("/send", PAGE, form=wrong_form(), heading="Again")
    form_page.get_by_role("button", name="Send").click()
    form_page.get_by_role("heading", name="Again").wait_for()
    desk.answers["/send"] = "<body>taken</body>"
    choose(form_page, "b.step", b"second")
    form_page.get_by_role("button", name="Send").click()
    form_page.get_by_text("taken").wait_for()
    assert b"second" in desk.sent


def test_back_leads_to_the_form(form_page, desk):
    desk.answers["/send"] = (302, "/job/")
    desk.page("/job/", PAGE, form=ModelForm(), heading="After")
    form_page.get_by_role("button", name="Send").click()
    form_page.get_by_role("heading", name="After").wait_for()
    form_page.go_back()
    form_page.get_by_role("heading", name="Before").wait_for()
