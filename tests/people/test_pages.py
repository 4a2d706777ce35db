"""One view, two answers: the page, or the part that htmx asked for."""

import pytest
from django.contrib.messages import add_message, constants
from django.contrib.messages.storage.cookie import CookieStorage
from django.template.loader import render_to_string
from django.test import RequestFactory
from django_htmx.middleware import HtmxDetails

from shopflow.people.models import ShopSettings
from shopflow.people.pages import render_part


def answer(message="", **headers):
    request = RequestFactory().get("/", headers=headers)
    request.htmx = HtmxDetails(request)
    request._messages = CookieStorage(request)
    if message:
        add_message(request, constants.ERROR, message)
    return render_part(request, page="404.html", part="_cautions.html", context={})


def test_a_browser_gets_the_page():
    assert "<html" in answer().content.decode()


def test_htmx_gets_the_part():
    body = answer(**{"HX-Request": "true"}).content.decode()
    assert "<html" not in body and "does not make a machine safe" in body


def test_a_history_restore_gets_the_page():
    assert "<html" in answer(**{"HX-Request": "true", "HX-History-Restore-Request": "true"}).content.decode()


@pytest.mark.parametrize("headers", [{}, {"HX-Request": "true"}])
def test_caches_keep_page_and_part_apart(headers):
    assert "HX-Request" in answer(**headers)["Vary"]


def test_a_waiting_message_travels_with_the_part():
    body = answer("The file is empty.", **{"HX-Request": "true"}).content.decode()
    assert 'hx-swap-oob="true"' in body and "The file is empty." in body


def test_the_head_names_the_shop(db):
    ShopSettings.objects.create(name="Millbrook Machine")
    request = RequestFactory().get("/")
    assert "Millbrook Machine" in render_to_string("_head.html", request=request)


def test_a_part_without_messages_leaves_those_on_the_page_alone():
    assert 'id="messages"' not in answer(**{"HX-Request": "true"}).content.decode()
