"""A real Chromium against a running shop; a page that breaks the content security policy or a script fails its test."""

import os
import time
from contextlib import contextmanager
from pathlib import Path

import pytest
from playwright.sync_api import sync_playwright

from tests.browser.people import make_shop
from tests.live_shop import LiveShop
from tests.services import ROOT

CHROMIUM = "/usr/bin/chromium-headless-shell"
"""Chromium without windows: pages are drawn and run as in the whole browser, and it opens in a fraction of the time."""
FLAGS = [
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
WATCH_THE_POLICY = """
document.addEventListener("securitypolicyviolation", (event) => {
  const place = `${event.sourceFile}:${event.lineNumber}`;
  console.error(`policy violated: ${event.violatedDirective} ${event.blockedURI} ${place}`);
});
"""
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa"]


@pytest.fixture(scope="session")
def live_shop():
    """The shop with its demo, served as make run serves it, for all browser tests of a run."""
    shop = LiveShop()
    try:
        shop.start()
        yield shop
    finally:
        shop.remove()


@pytest.fixture(scope="session")
def sessions(live_shop):
    """Keys of sessions in the running shop, made once: of a test person for each role, and of the demo's people."""
    return make_shop(live_shop)


@pytest.fixture(scope="session")
def playwright():
    """One for a process. Its event loop counts as running until it is closed, while other files use the database."""
    with sync_playwright() as started, pytest.MonkeyPatch.context() as patch:
        patch.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "true")
        yield started


def launch(playwright, *more, **options):
    """A Chromium with more flags, and options as playwright takes them; its sandbox refuses root, as whom CI runs."""
    flags = [*FLAGS, *more, *(["--no-sandbox"] if os.getuid() == 0 else [])]
    return playwright.chromium.launch(executable_path=CHROMIUM, args=flags, **options)


@pytest.fixture(scope="session")
def chromium(playwright):
    browser = launch(playwright)
    yield browser
    browser.close()


@pytest.fixture
def new_page(chromium, live_shop):
    """Make pages, each in a browser session of its own (as another person): new_page(width=390, **options)."""
    contexts, troubles = [], []

    def make(*, width=1440, height=900, **options):
        viewport = {"width": width, "height": height}
        context = watched_context(chromium, base_url=live_shop.address, viewport=viewport, **options)
        contexts.append(context)
        page = context.new_page()
        watch(page, troubles)
        return page

    yield make
    for context in contexts:
        context.close()
    assert troubles == []


def watched_context(chromium, **options):
    """A browser session whose pages tell in their console what violates the policy."""
    context = chromium.new_context(**options)
    context.set_default_timeout(20_000)
    context.add_init_script(WATCH_THE_POLICY)
    return context


def watch(page, troubles):
    """Note broken scripts, violations of the policy and answers that are errors of the server; what was listened to."""

    def on_console(message):
        # A refused resource (404, 409) shows by its status, which a test may want; a script's error shows only here.
        if message.type == "error" and not message.text.startswith("Failed to load resource"):
            troubles.append(f"{page.url}: {message.text}")

    listeners = {
        "console": on_console,
        "pageerror": lambda error: troubles.append(f"{page.url}: {error}"),
        "response": lambda answer: answer.status >= 500 and troubles.append(f"{answer.url}: {answer.status}"),
    }
    for event, listener in listeners.items():
        page.on(event, listener)
    return listeners


@contextmanager
def watched(page, troubles):
    """The same for a while, of a page that others use after."""
    listeners = watch(page, troubles)
    yield
    for event, listener in listeners.items():
        page.remove_listener(event, listener)


def eventually(page, expression, *, seconds=20):
    """Wait until an expression of JavaScript is true in a page.

    Playwright's wait_for_function evaluates a string inside the page, which the policy refuses from the second try on.
    """
    deadline = time.monotonic() + seconds
    while not page.evaluate(expression):
        if time.monotonic() > deadline:
            raise AssertionError(f"never true in {page.url}: {expression}")
        page.wait_for_timeout(50)


@pytest.fixture
def page(new_page):
    """A page at 1440 by 900 with nobody logged in."""
    return new_page()


@pytest.fixture(scope="session")
def accessibility_problems():
    """Call with a page: what axe-core finds against WCAG 2.1 A and AA, as lines of rule and place."""
    source = (ROOT / "node_modules" / "axe-core" / "axe.min.js").read_text()

    def problems(page):
        page.evaluate(source)
        result = page.evaluate("rules => axe.run({ runOnly: { type: 'tag', values: rules } })", RULES)
        return [
            f"{found['id']}: {found['help']}: {node['target']}"
            for found in result["violations"]
            for node in found["nodes"]
        ]

    return problems


@pytest.fixture
def picture(tmp_path):
    """Save a screenshot for people to look at, in the folder that PICTURES names: picture(page, "home")."""
    folder = Path(os.environ.get("PICTURES", tmp_path))

    def take(page, name):
        folder.mkdir(parents=True, exist_ok=True)
        page.screenshot(path=str(folder / f"{name}.png"), full_page=True)

    return take
