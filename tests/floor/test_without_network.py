"""A station that loses its network, in a real browser against the running shop: nothing lost, nothing counted twice."""

import json
import re

import pytest

from tests.browser.people import let_in, log_in
from tests.browser_fixtures import eventually

pytestmark = pytest.mark.browser

MAKE_LOTS = """
import json
from shopflow.floor import actions
from shopflow.people.models import User
from tests.floor.objects import a_lot, op
lead = User.objects.get(username="t_lead")
lots = [a_lot(lead, quantity=12) for _ in range(11)]
pages = [[f"/floor/lot/{lot.pk}/op/{op(lot, number).pk}/" for number in (10, 20)] for lot in lots]
print(json.dumps([{"lot": lot.pk, "job": lot.job_id, "op": one, "mill": two} for lot, (one, two) in zip(lots, pages)]))
"""
TAKEN_AWAY = """
from shopflow.floor import actions
from shopflow.floor.models import Lot
from shopflow.people.models import User
lot = Lot.objects.get(pk={lot})
by = User.objects.get(username="t_lead")
actions.scrap(lot, lot.job.steps.get(op_number=10), 12, reason="all of them", by=by)
"""
IS_KEPT = """(async () => {
  const cache = await caches.open('shopflow-pages');
  const parts = (await (await caches.open('shopflow-parts')).keys()).map(({ url }) => url);
  return Boolean(await cache.match(location.pathname) && await cache.match('/floor/away/')
    && parts.some((url) => url.includes('counter')));
})()"""


@pytest.fixture(scope="module")
def lots(live_shop, sessions):
    """Lots of twelve at op 10, one for each test."""
    return iter(json.loads(live_shop.python(MAKE_LOTS).splitlines()[-1]))


@pytest.fixture
def lot(lots):
    return next(lots)


def at_op_10(page, lot):
    page.goto(lot["op"])
    eventually(page, IS_KEPT)
    return page


@pytest.fixture
def page(new_page, lot, live_shop, sessions):
    """A machinist's tablet at op 10 of a lot, which it has seen once and keeps."""
    return at_op_10(let_in(new_page(width=1024, height=768), live_shop, sessions["machinist"]), lot)


@pytest.fixture
def page_logged_out_of(new_page, lot):
    """The same with a log-in of its own, which the test ends."""
    return at_op_10(log_in(new_page(width=1024, height=768), "machinist"), lot)


def lose_network(page):
    page.context.set_offline(True)


def find_network(page):
    page.context.set_offline(False)


def open_again(page):
    page.goto(page.url)
    return page


def press(page, words):
    page.get_by_role("button", name=re.compile(f"^{words}")).first.click()


def report(page, words, *, drawer="", **typed):
    """Fill a report in and press its button; of a drawer, open it first."""
    if drawer:
        page.locator(f"form[data-report={drawer}]").locator("..").locator("summary").click()
    form = page.locator(f"form[data-report={drawer}]") if drawer else page.locator("[data-now]")
    for name, value in typed.items():
        form.locator(f"[name={name}]").fill(value)
    form.get_by_role("button", name=re.compile(f"^{words}")).click()


def waiting(page, number):
    """Wait until the page says how many of this person's reports wait."""
    page.wait_for_selector(f"#kept h2:has-text('{number} report')")


def counted(page):
    """Wait until nothing waits any more."""
    page.wait_for_selector("#kept", state="hidden", timeout=60_000)


def comes_true(page, is_so):
    for _ in range(100):
        if is_so():
            return
        page.wait_for_timeout(200)
    raise AssertionError("not within twenty seconds")


def history(page, lot):
    """What the shop says happened to the lot, oldest first."""
    said = page.request.get(f"/job/{lot['job']}/history/").text()
    texts = re.findall(r'<div class="breaks">(.*?)<span class="history-who">', said, re.DOTALL)
    return [re.sub(r"<[^>]+>", "", text).strip() for text in reversed(texts)]


def of_op_10(page, lot):
    return [text for text in history(page, lot) if "op 10" in text]


def test_reports_made_without_a_network_arrive_once_and_in_order(page, lot, picture):
    lose_network(page)
    open_again(page)
    page.wait_for_selector("text=this page is as it was at")
    report(page, "Start")
    waiting(page, 1)
    report(page, "Count good", quantity="5")
    report(page, "Scrap", drawer="scrap", quantity="1", reason="dropped")
    waiting(page, 3)
    open_again(page)
    waiting(page, 3)
    report(page, "Finish the op")
    waiting(page, 4)
    picture(page, "without-network")
    find_network(page)
    counted(page)
    assert of_op_10(page, lot) == [
        "op 10 started", "5 counted good at op 10", "1 scrapped at op 10: dropped", "op 10 finished",
    ]  # fmt: skip


def test_setting_up_that_begins_without_a_network_is_said_once_it_is_back(page, lot):
    page.goto(lot["mill"])
    eventually(page, IS_KEPT)
    lose_network(page)
    report(page, "Begin setting up")
    waiting(page, 1)
    find_network(page)
    counted(page)
    assert [text for text in history(page, lot) if "setting up" in text] == ["setting up begun at op 20"]
    assert "Being set up since" in open_again(page).locator("[data-now]").inner_text()


def test_the_op_is_shown_as_it_will_be(page):
    lose_network(page)
    report(page, "Start")
    page.wait_for_selector("text=Started, waits for the network")
    report(page, "Count good", quantity="5")
    eventually(page, "document.querySelector('[data-here]').textContent === '7'")


def test_a_report_whose_answer_was_lost_counts_once(page, lot):
    sent = []

    def lose_the_answer(route):
        sent.append(route.fetch().status)
        route.abort()

    page.route("**/start/", lose_the_answer, times=1)
    report(page, "Start")
    page.wait_for_selector("[data-running]")
    assert (sent, of_op_10(page, lot)) == ([200], ["op 10 started"])


def test_a_network_that_comes_back_during_a_try_is_tried_again_without_waiting(page, lot):
    lose_network(page)
    report(page, "Start")
    waiting(page, 1)
    tries = []

    def hold(route):
        tries.append(route.request.url)
        if len(tries) == 1:
            page.evaluate("window.setTimeout = () => 0")  # nothing that waits for a while comes to its turn
            page.evaluate("window.dispatchEvent(new Event('online'))")
            route.abort()
        else:
            route.continue_()

    page.route("**/start/", hold)
    find_network(page)
    page.wait_for_selector("[data-running]")
    assert (len(tries), of_op_10(page, lot)) == (2, ["op 10 started"])


def test_a_refused_report_is_shown_with_the_reason_and_kept_until_the_person_decides(
    page, lot, live_shop, picture, accessibility_problems
):
    lose_network(page)
    report(page, "Start")
    report(page, "Note", drawer="note", text="coolant low")
    waiting(page, 2)
    live_shop.python(TAKEN_AWAY.format(lot=lot["lot"]))
    find_network(page)
    page.wait_for_selector("text=No piece of this lot stands at op 10 yet.")
    open_again(page)
    page.wait_for_selector("text=1 report was not taken, 1 report waits")
    picture(page, "refused")
    page.locator(".kept-refused:visible summary").click()
    assert accessibility_problems(page) == []
    press(page, "Discard it")
    counted(page)
    assert of_op_10(page, lot) == ["12 scrapped at op 10: all of them", "note at op 10: coolant low"]


def test_reports_wait_for_the_log_in_of_the_person_who_made_them(page, lot, new_page):
    lose_network(page)
    report(page, "Start")
    waiting(page, 1)
    page.context.clear_cookies(name="sessionid")
    find_network(page)
    page.wait_for_selector("text=Your log-in has ended")
    page.goto("/people/station/")
    page.wait_for_selector("text=1 report waits on this device")
    log_in(page, "lead")
    page.wait_for_selector("text=1 report of another person waits on this device")
    assert of_op_10(page, lot) == []
    page.get_by_role("button", name="Log out").click()
    log_in(page, "machinist")
    comes_true(page, lambda: of_op_10(page, lot) == ["op 10 started"])


def test_after_logging_out_nothing_that_was_seen_is_left_on_the_device(page_logged_out_of):
    page = page_logged_out_of
    page.get_by_role("button", name="Log out").click()
    page.wait_for_selector("[data-log-in]")
    eventually(page, "caches.has('shopflow-pages').then((has) => !has)")


def test_a_page_that_was_never_opened_says_so(page):
    lose_network(page)
    page.goto("/floor/station/deburr/")
    assert "was not opened on this device yet" in page.inner_text("main")


def test_logging_out_without_a_network_empties_the_page_and_ends_the_log_in_once_it_is_back(page_logged_out_of):
    page = page_logged_out_of
    lose_network(page)
    page.get_by_role("button", name="Log out").click()
    page.wait_for_selector("main:has-text('you are logged out on this device')")
    assert page.locator("#op").count() == 0
    find_network(page)
    page.wait_for_selector("[data-log-in]")
