"""What a scanned code opens, and what it does not."""

import pytest
from django.test import override_settings
from django.urls import reverse

from shopflow.floor import actions
from shopflow.floor.models import Paper
from shopflow.floor.scanning import NotOurs, Scanned, read
from tests.floor.objects import a_lot, op

HERE = "192.168.7.20:8443"
OURS = f"https://{HERE}"
PATH = "/floor/packet/7/op/12/"


@pytest.fixture(autouse=True)
def known_as():
    with override_settings(SITE_URL=OURS, ALLOWED_HOSTS=["192.168.7.20", "mill-office.local"]):
        yield


@pytest.fixture
def lot(lead):
    return a_lot(lead)


@pytest.fixture
def printed(lot, lead):
    """The path that the code beside op 10 carries, on a packet of the lot's job."""
    packet = actions.make_packet(lot.job, by=lead, content_hash="0" * 64)
    return reverse("floor:scan", args=[packet.pk, op(lot, 10).pk])


@pytest.mark.parametrize("before", [OURS, f"  {OURS}", "http://192.168.7.20:8000", "https://MILL-OFFICE.local:8443"])
def test_a_code_of_our_papers_names_its_page(printed, before):
    assert read(f"{before}{printed}\r\n", host=HERE) == Scanned(printed)


@pytest.mark.parametrize("former", ["https://192.168.7.9:8443", "http://localhost:8000", "https://old-name.local"])
def test_a_code_printed_under_a_former_address_names_the_same_page_and_says_which_address(printed, former):
    found = read(f"{former}{printed}", host=HERE)
    assert (found.path, found.elsewhere) == (printed, former.split("//")[1].partition(":")[0])


def test_each_kind_of_code_that_papers_carry_is_read_under_a_former_address(lot, lead, printed):
    paper = Paper.objects.create(job=lot.job, kind=Paper.Kind.LABELS, number=1, asked_by=lead)
    packet = lot.job.packets.get()
    for path in (reverse("papers:scan", args=[paper.pk]), reverse("papers:scan_traveler", args=[packet.pk])):
        assert read(f"https://192.168.7.9{path}", host=HERE).path == path


@pytest.mark.parametrize("name", ["floor:op", "workflow:job"])
def test_a_page_that_no_paper_names_is_opened_under_our_own_name_alone(lot, name):
    path = reverse(name, args=[lot.pk, op(lot, 10).pk] if name == "floor:op" else [lot.job.pk])
    assert read(f"{OURS}{path}", host=HERE) == Scanned(path)
    with pytest.raises(NotOurs):
        read(f"https://192.168.7.9{path}", host=HERE)


@pytest.mark.parametrize(
    "code",
    [
        "", "4711", PATH, f"//evil.example{PATH}", f"javascript://192.168.7.20{PATH}", f"ftp://192.168.7.20{PATH}",
        f"https://192.168.7.20@evil.example{PATH}", "https://[::1", f"{OURS}/people/log-out/", f"{OURS}/nowhere/",
        f"{OURS}//evil.example{PATH}", "https://evil.example/people/log-out/", f"https:{PATH}", "x" * 5000,
    ],
)  # fmt: skip
def test_anything_else_opens_nothing(code):
    with pytest.raises(NotOurs, match="no code of this shop's papers. Scan the one beside the op"):
        read(code, host=HERE)


@pytest.mark.parametrize("host", [OURS, "https://evil.example"])
@pytest.mark.parametrize(
    "path", ["/floor/packet/999999/op/1/", "/papers/traveler/999999/scan/", f"/papers/{10**30}/scan/"]
)
def test_a_code_of_something_that_this_shop_does_not_have_opens_nothing(db, host, path):
    with pytest.raises(NotOurs, match="another shop may have printed it. Look for the job by the number on the paper"):
        read(f"{host}{path}", host=HERE)


def test_an_op_of_another_job_than_the_packets_opens_nothing(printed, lead):
    other = op(a_lot(lead), 10).pk
    path = f"{printed.rpartition('/op/')[0]}/op/{other}/"
    with pytest.raises(NotOurs, match="names an op or a paper that this shop does not have"):
        read(f"{OURS}{path}", host=HERE)


def scan(client, code):
    return client.get(reverse("floor:scanned"), {"code": code}, follow=True, headers={"host": "192.168.7.20"})


def test_a_code_that_is_not_ours_is_said_on_the_stations_page(client, machinist):
    client.force_login(machinist)
    assert (
        "https://evil.example/&lt;b&gt;” is no code of this shop"
        in scan(client, "https://evil.example/<b>").content.decode()
    )


def test_a_code_of_a_former_address_opens_the_op_here_and_asks_to_compare(client, machinist, lot, printed):
    client.force_login(machinist)
    answer = scan(client, f"https://192.168.7.9:8443{printed}")
    assert answer.redirect_chain[-1][0] == reverse("floor:op", args=[lot.pk, op(lot, 10).pk])
    assert "printed under another address (192.168.7.9)" in answer.content.decode()


def test_the_code_of_a_superseded_traveler_says_so(client, machinist, lot, lead, printed):
    actions.make_packet(lot.job, by=lead, content_hash="1" * 64)
    client.force_login(machinist)
    assert "This paper is superseded" in scan(client, f"{OURS}{printed}").content.decode()
