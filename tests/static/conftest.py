"""A small server of the built scripts and of pages made from the shared templates, under the shop's own policy."""

import json
import threading
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from urllib.parse import parse_qs, urlsplit

import pytest
from csp.utils import build_policy
from django.conf import settings
from django.template import engines
from django.test import RequestFactory

from tests.browser_fixtures import watched, watched_context

BUILT = settings.BASE_DIR / "shopflow" / "static" / "built"
KINDS = {".js": "text/javascript", ".css": "text/css", ".woff2": "font/woff2", ".svg": "image/svg+xml"}


class Desk:
    """Answers by path: bytes, text, a (status, body) pair, or a function of the query that gives one of them."""

    def __init__(self):
        self.forget()

    def forget(self):
        self.answers = {}
        self.asked = []
        self.sent = b""

    def page(self, path, source, **context):
        request = RequestFactory().get(path)
        self.answers[path] = lambda query: (
            engines["django"].from_string(source).render({"shop_name": "Millbrook Machine", **context}, request)
        )

    def answer(self, address):
        parts = urlsplit(address)
        self.asked.append(address)
        if parts.path.startswith("/static/built/"):
            path = BUILT / parts.path.rpartition("/")[2]
            return 200, KINDS.get(path.suffix, "application/octet-stream"), path.read_bytes()
        found = self.answers.get(parts.path, (404, ""))
        found = found(parse_qs(parts.query)) if callable(found) else found
        status, body = found if isinstance(found, tuple) else (200, found)
        if isinstance(body, dict):
            return status, "application/json", json.dumps(body).encode()
        return status, "text/html", body if isinstance(body, bytes) else body.encode()


def handler(desk, policy):
    class Handler(BaseHTTPRequestHandler):
        def do_POST(self):  # noqa: N802 (the name http.server calls)
            desk.sent = self.rfile.read(int(self.headers["Content-Length"]))
            self.do_GET()

        def do_GET(self):  # noqa: N802
            status, kind, body = desk.answer(self.path)
            self.send_response(status)
            if status == 302:
                self.send_header("Location", body.decode())
            self.send_header("Content-Type", f"{kind}; charset=utf-8" if kind.startswith("text") else kind)
            self.send_header("Content-Security-Policy", policy)
            self.send_header("Content-Length", str(len(body)))
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, *args):
            pass

    return Handler


@pytest.fixture(scope="session")
def desk_of_the_run():
    assert BUILT.is_dir(), "the scripts are not built: make test does it"
    desk = Desk()
    server = ThreadingHTTPServer(("127.0.0.1", 0), handler(desk, build_policy()))
    threading.Thread(target=server.serve_forever, daemon=True).start()
    desk.address = f"http://127.0.0.1:{server.server_port}"
    yield desk
    server.shutdown()
    server.server_close()


@pytest.fixture
def desk(desk_of_the_run):
    desk_of_the_run.forget()
    return desk_of_the_run


@pytest.fixture(scope="session")
def page_of_the_run(chromium, desk_of_the_run):
    """One page for all tests of this folder: a browser needs longer for a new one than for most of these tests."""
    context = watched_context(chromium, base_url=desk_of_the_run.address)
    yield context.new_page()
    context.close()


@pytest.fixture
def troubles():
    """What went wrong in the page so far; a test that wants a trouble takes it out."""
    return []


@pytest.fixture
def page(page_of_the_run, desk, troubles):
    """A page as if just opened, whose scripts may not break and that may not violate the policy."""
    page = page_of_the_run
    page.set_viewport_size({"width": 1440, "height": 900})
    with watched(page, troubles):
        yield page
        page.evaluate("localStorage.clear(); sessionStorage.clear()")
        page.goto("about:blank")
    assert troubles == []
