"""A whole shop on its network (make run LAN=1), on the loopback address: one start for all of these."""

import http.client
import http.cookiejar
import os
import re
import socket
import ssl
import urllib.error
import urllib.parse
import urllib.request
from contextlib import closing, suppress
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding

from shopflow.deploy import addresses, authority
from tests.browser.people import log_in, make_shop
from tests.browser_fixtures import WATCH_THE_POLICY, launch, watch
from tests.live_shop import LiveShop
from tests.trusting import install_authority

pytestmark = pytest.mark.xdist_group("supervisor")

PERSON = "from shopflow.people.models import User; User.objects.create_user('lea', password='forty-two-vises-8')"


@pytest.fixture(scope="module")
def shop(laid_out):
    shop = LiveShop(DEMO="0", LAN="1", BIND="127.0.0.1").over_a_copy_of(laid_out)
    try:
        shop.start()
        yield shop
    finally:
        shop.remove()


@pytest.fixture(scope="module")
def trust(shop):
    """A device that installed the shop's certificate, and trusts nobody else."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    context.load_verify_locations(shop.folder / "data" / "lan" / "authority.pem")
    return context


@pytest.fixture(scope="module")
def door(shop):
    return re.search(r"open (http://\S+) and install", shop.output())[1]


def port_of(address):
    return urllib.parse.urlsplit(address).port


def shake_hands(shop, trust, name):
    plain = socket.create_connection(("127.0.0.1", port_of(shop.address)), timeout=30)
    return trust.wrap_socket(plain, server_hostname=name)


def answer_of(opener, url, **more):
    with suppress(urllib.error.HTTPError), opener.open(url, timeout=60, **more) as answer:
        return answer
    raise AssertionError(f"{url} was refused")


class Unmoved(urllib.request.HTTPRedirectHandler):
    """Shows a redirection instead of following it."""

    def redirect_request(self, *given):
        return None


def status_and_headers(url, trust, **headers):
    opener = urllib.request.build_opener(Unmoved, urllib.request.HTTPSHandler(context=trust))
    try:
        with opener.open(urllib.request.Request(url, headers=headers), timeout=60) as answer:
            return answer.status, answer.headers
    except urllib.error.HTTPError as error:
        error.close()
        return error.code, error.headers


@pytest.mark.parametrize("name", ["localhost", "127.0.0.1", *addresses.host_names()])
def test_a_device_with_the_certificate_trusts_the_shop_under_each_of_its_names(shop, trust, name):
    with shake_hands(shop, trust, name) as secured:
        assert secured.version() in ("TLSv1.2", "TLSv1.3")


def test_a_device_with_the_certificate_trusts_it_under_no_other_name(shop, trust):
    with pytest.raises(ssl.SSLCertVerificationError, match="mismatch"):
        shake_hands(shop, trust, "other.local").close()


def test_a_device_without_the_certificate_does_not_trust_the_shop(shop):
    with pytest.raises(ssl.SSLCertVerificationError):
        shake_hands(shop, ssl.create_default_context(), "localhost").close()


def test_cookies_go_over_https_only(shop, trust):
    shop.python(PERSON)
    jar = http.cookiejar.CookieJar()
    opener = urllib.request.build_opener(
        urllib.request.HTTPCookieProcessor(jar), urllib.request.HTTPSHandler(context=trust)
    )
    url = f"{shop.address}/people/log-in/"
    answer_of(opener, url)
    token = next(cookie.value for cookie in jar if cookie.name == "csrftoken")
    typed = {"username": "lea", "password": "forty-two-vises-8", "csrfmiddlewaretoken": token}
    sent = urllib.request.Request(url, urllib.parse.urlencode(typed).encode(), {"Origin": shop.address, "Referer": url})
    with suppress(urllib.error.HTTPError):  # lea holds no role: she is logged in, and may see no page
        opener.open(sent, timeout=60).close()
    assert {(cookie.name, cookie.secure) for cookie in jar} == {("csrftoken", True), ("sessionid", True)}


def test_the_address_is_https_and_the_one_that_codes_carry(shop):
    # What processes are told stands in the environment that the supervisor hands to each of them.
    web = next(pid for pid in shop.processes() if b"gunicorn" in Path(f"/proc/{pid}/cmdline").read_bytes())
    told = Path(f"/proc/{web}/environ").read_bytes().split(b"\0")
    assert f"SITE_URL={shop.address}".encode() in told
    assert shop.address.startswith("https://localhost:")


def test_a_host_that_is_not_ours_is_refused(shop, trust):
    assert status_and_headers(shop.address, trust, Host="evil.example")[0] == 400


def test_no_promise_is_made_that_would_outlive_the_certificate(shop, trust):
    assert "Strict-Transport-Security" not in status_and_headers(f"{shop.address}/people/log-in/", trust)[1]


def test_one_connection_carries_page_after_page(shop, trust):
    with closing(http.client.HTTPSConnection("localhost", port_of(shop.address), context=trust)) as client:
        client.request("GET", "/people/log-in/")
        sheet = re.search(r'href="(/static/[^"]+\.css)"', client.getresponse().read().decode())[1]
        for _ in range(3):
            client.request("GET", sheet)
            answer = client.getresponse()
            assert len(answer.read()) == int(answer.headers["Content-Length"]) > 20_000


def test_connections_that_say_nothing_after_the_handshake_keep_nobody_waiting(shop, trust):
    silent = [shake_hands(shop, trust, "localhost") for _ in range(40)]  # more than there are threads
    assert status_and_headers(f"{shop.address}/people/log-in/", trust)[0] == 200
    for connection in silent:
        connection.close()


def test_the_certificate_to_install_is_the_one_that_is_served_and_printed(shop, door):
    with urllib.request.urlopen(f"{door}/shop-network.crt") as answer:
        certificate = x509.load_der_x509_certificate(answer.read())
    with urllib.request.urlopen(f"{door}/shop-network.pem") as answer:
        assert x509.load_pem_x509_certificate(answer.read()) == certificate
    with urllib.request.urlopen(door) as answer:
        page = answer.read().decode()
    for line in authority.fingerprint_lines(certificate):
        assert line in page
        assert line in shop.output()


def test_the_plain_port_sends_everything_else_to_https_under_the_name_it_was_asked_by(shop, door, trust):
    status, headers = status_and_headers(f"{door.replace('localhost', '127.0.0.1')}/floor/packet/1/?a=b", trust)
    assert (status, headers["Location"]) == (302, f"https://127.0.0.1:{port_of(shop.address)}/floor/packet/1/?a=b")


def test_the_plain_port_sends_nobody_to_a_host_that_is_not_ours(door, trust):
    assert status_and_headers(f"{door}/floor/", trust, Host="evil.example")[0] == 400


def test_the_plain_port_shows_no_key(door, trust):
    assert status_and_headers(f"{door}/lan/authority-key.pem", trust)[0] == 302


@pytest.fixture(scope="module")
def tablet(shop, playwright, tmp_path_factory):
    """A page of a Chromium in whose certificates the shop's authority was installed, and the troubles it had."""
    home = tmp_path_factory.mktemp("home")
    with (shop.folder / "data" / "lan" / "authority.pem").open("rb") as file:
        install_authority(home, x509.load_pem_x509_certificate(file.read()).public_bytes(Encoding.DER))
    browser = launch(playwright, env={"HOME": str(home), "PATH": os.environ["PATH"]})
    context = browser.new_context(base_url=shop.address, viewport={"width": 1024, "height": 768})
    context.add_init_script(WATCH_THE_POLICY)
    page, troubles = context.new_page(), []
    watch(page, troubles)
    yield page
    browser.close()
    assert troubles == []


@pytest.mark.browser
def test_a_browser_with_the_certificate_gives_a_station_all_that_needs_https(shop, tablet):
    make_shop(shop)
    log_in(tablet, "machinist").goto("/floor/")
    worker = tablet.evaluate("navigator.serviceWorker.ready.then(({ active }) => active.scriptURL)")
    assert worker == f"{shop.address}/floor/worker.js"
    assert tablet.evaluate("[isSecureContext, typeof navigator.mediaDevices.getUserMedia]") == [True, "function"]
    assert {(kept["name"], kept["secure"]) for kept in tablet.context.cookies()} == {
        ("csrftoken", True), ("sessionid", True),
    }  # fmt: skip


@pytest.mark.browser
def test_axe_finds_nothing_on_the_page_that_installs(door, tablet, accessibility_problems):
    tablet.goto(door)
    for summary in tablet.locator("summary").all():
        summary.click()
    assert accessibility_problems(tablet) == []
