"""What a scanned code opens, and what it does not."""

import pytest
from django.test import override_settings
from django.urls import reverse

from shopflow.floor import actions
from shopflow.floor.scanning import NotOurs, path_of
from tests.floor.objects import a_lot, op

PATH = "/floor/packet/7/op/12/"


@pytest.fixture(autouse=True)
def known_as():
    with override_settings(SITE_URL="https://192.168.7.20:8443", ALLOWED_HOSTS=["192.168.7.20", "mill-office.local"]):
        yield


@pytest.mark.parametrize(
    "code",
    [
        f"https://192.168.7.20:8443{PATH}",
        f"  https://192.168.7.20:8443{PATH}\r\n",
        f"http://192.168.7.20:8000{PATH}",
        f"https://MILL-OFFICE.local:8443{PATH}",
    ],
)
def test_a_code_of_our_papers_names_its_page(code):
    assert path_of(code, host="192.168.7.20:8443") == PATH


@pytest.mark.parametrize(
    "code",
    [
        "", "4711", PATH, f"//evil.example{PATH}", f"https://evil.example{PATH}", f"javascript://192.168.7.20{PATH}",
        f"https://192.168.7.20@evil.example{PATH}", f"https://192.168.7.20.evil.example{PATH}", "https://[::1",
        "https://192.168.7.20:8443/people/log-out/", "https://192.168.7.20:8443/nowhere/",
        f"https://192.168.7.20:8443//evil.example{PATH}", "x" * 5000,
    ],
)  # fmt: skip
def test_anything_else_opens_nothing(code):
    with pytest.raises(NotOurs):
        path_of(code, host="192.168.7.20:8443")


def test_a_code_that_is_not_ours_is_said_on_the_stations_page(client, machinist):
    client.force_login(machinist)
    answer = client.get(
        reverse("floor:scanned"), {"code": "https://evil.example/<b>"}, follow=True, headers={"host": "192.168.7.20"}
    )
    assert "https://evil.example/&lt;b&gt;” is no code of this shop" in answer.content.decode()


def test_the_code_of_a_superseded_traveler_says_so(client, machinist, lead):
    lot = a_lot(lead)
    old = actions.make_packet(lot.job, by=lead, content_hash="0" * 64)
    actions.make_packet(lot.job, by=lead, content_hash="1" * 64)
    client.force_login(machinist)
    code = f"https://192.168.7.20:8443{reverse('floor:scan', args=[old.pk, op(lot, 10).pk])}"
    answer = client.get(reverse("floor:scanned"), {"code": code}, follow=True, headers={"host": "192.168.7.20"})
    assert "This paper is superseded" in answer.content.decode()
