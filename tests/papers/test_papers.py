"""Certificate, packing slip, labels and reports as other people's readers see them, and what a scan of them tells."""

import io
from dataclasses import dataclass

import pypdf
import pytest
import zxingcpp
from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.urls import resolve, reverse

from shopflow.core.errors import CoreError
from shopflow.floor.models import Paper
from shopflow.inspection import actions as inspection
from shopflow.inspection import queries as inspection_queries
from shopflow.jobs import actions as jobs
from shopflow.papers import actions, labels, queries, reports
from shopflow.papers.shipments import shipment_facts
from shopflow.people.actions import change_shop_settings
from shopflow.people.models import Role
from shopflow.records import ledger
from shopflow.workflow import actions as workflow
from tests.floor.objects import op
from tests.papers.objects import a_measured_lot, bytes_of, paper_of, printed, shipped
from tests.pdf import pictures_of
from tests.people_fixtures import make_person

pytestmark = pytest.mark.django_db


def pages_of(pdf):
    return pypdf.PdfReader(io.BytesIO(pdf)).pages


def text_of(pdf):
    return "\n".join(page.extract_text() for page in pages_of(pdf))


def codes_in(pdf):
    return [code.text for code in zxingcpp.read_barcodes(pictures_of(pdf, first=1)[0])]


@dataclass(frozen=True)
class Kept:
    """A printed paper as it was kept, without its rows: those are gone when a test looks at it."""

    pk: int
    pdf: bytes
    sha256: str
    rows: list

    @property
    def text(self):
        return " ".join(text_of(self.pdf).split())


@pytest.fixture(scope="module")
def certificate(django_db_setup, django_db_blocker):
    """The certificate of a lot of three, one of which is used as it is; printed once for all that look at it."""
    with django_db_blocker.unblock(), transaction.atomic():
        person = make_person("all_hats", *Role.values)
        lot = a_measured_lot(person, bores=("10.01", "10.06", "10.02"))
        found = inspection_queries.open_nonconformances(lot).get()
        told = "by phone to Mr Quint, 24 Nov"
        inspection.dispose(found, "use as is", reason="fits its housing", by=person, customer_told=told)
        inspection.pass_pieces(lot, op(lot, 40), 3, by=person)
        paper = paper_of(workflow.ship(lot.job, lot, 2, by=person), Paper.Kind.CERTIFICATE)
        rows = list(ledger.rows_for(lot.job.chain))
        yield Kept(paper.pk, bytes_of(paper), paper.stored.sha256, rows)
        transaction.set_rollback(True)


def a_report(lot, person):
    return printed(actions.ask(lot.job, Paper.Kind.INSPECTION, by=person, lot=lot))


def test_a_certificate_says_what_of_which_material_is_in_which_shipment(certificate):
    for words in ("BP-1140", "Brookside Pumps", "2 pieces of this shipment", "revision C", "All Hats"):
        assert words in certificate.text


def test_a_certificate_tells_what_the_customer_was_told_of(certificate):
    assert "balloon 1 measures 10.06" in certificate.text
    assert "by phone to Mr Quint, 24 Nov" in certificate.text


def test_a_paper_carries_a_code_that_opens_what_it_is_about(certificate):
    opened = resolve("/" + codes_in(certificate.pdf)[0].partition("://")[2].partition("/")[2])
    assert (opened.view_name, opened.kwargs) == ("papers:scan", {"paper_id": certificate.pk})


def test_a_paper_carries_the_end_of_the_jobs_chain(certificate):
    printed_text = certificate.text.replace(" ", "")
    assert any(row.hash in printed_text for row in certificate.rows)


def test_a_printed_paper_is_in_the_history_by_its_hash(certificate):
    said = [row.data for row in certificate.rows if row.kind == "paper_printed"]
    assert [(row["paper"], row["sha256"]) for row in said] == [("certificate", certificate.sha256)]


def test_the_packing_slip_of_a_second_shipment_counts_the_first(lead):
    first = shipped(lead, quantity=1)
    second = workflow.ship(first.job, first.lot, 2, by=lead)
    facts = shipment_facts(second)
    assert (facts["shipped_before"], facts["quantity"], facts["to_follow"]) == (1, 2, 0)


def test_a_packing_slip_says_how_many_are_in_the_box_and_how_many_follow(lead):
    text = " ".join(text_of(bytes_of(paper_of(shipped(lead), Paper.Kind.PACKING_SLIP))).split())
    assert "SHIP TO Brookside Pumps" in text
    assert "3 0 2 1" in text  # ordered, shipped before, in this shipment, to follow


def test_labels_come_as_many_as_asked_for_and_each_is_read(lead):
    lot = a_measured_lot(lead)
    chosen = {"labels": 3, "pieces": 4, "on": "sheet"}
    paper = printed(actions.ask(lot.job, Paper.Kind.LABELS, by=lead, lot=lot, chosen=chosen))
    assert len(codes_in(bytes_of(paper))) == 3


def test_the_eleventh_label_begins_a_sheet_of_its_own():
    assert [list(sheet) for sheet in labels.sheets({"on": "sheet", "labels": 12})] == [list(range(1, 11)), [11, 12]]


def test_twelve_labels_are_read_off_two_sheets(lead):
    lot = a_measured_lot(lead)
    chosen = {"labels": 12, "on": "sheet"}
    pdf = bytes_of(printed(actions.ask(lot.job, Paper.Kind.LABELS, by=lead, lot=lot, chosen=chosen)))
    read = [len(zxingcpp.read_barcodes(picture)) for picture in pictures_of(pdf)]
    assert read == [10, 2]


def test_a_label_printer_gets_a_page_a_label(lead):
    lot = a_measured_lot(lead)
    paper = printed(actions.ask(lot.job, Paper.Kind.LABELS, by=lead, lot=lot, chosen={"labels": 2, "on": "roll"}))
    sizes = [[round(float(side) / 72 * 25.4) for side in page.mediabox[2:]] for page in pages_of(bytes_of(paper))]
    assert sizes == [[100, 60], [100, 60]]


def test_papers_come_on_the_paper_that_is_in_the_printer(lead):
    lot = a_measured_lot(lead)
    change_shop_settings(name="Ostrellan Milling", address="", paper_size="letter", by=lead)
    paper = printed(actions.ask(lot.job, Paper.Kind.LABELS, by=lead, lot=lot, chosen={"labels": 1, "on": "sheet"}))
    assert [float(side) / 72 for side in pages_of(bytes_of(paper))[0].mediabox[2:]] == [8.5, 11]


def test_a_first_article_report_accepts_what_is_within_its_limits(lead):
    lot = a_measured_lot(lead)
    asked = actions.ask(lot.job, Paper.Kind.FIRST_ARTICLE, by=lead, lot=lot, chosen={"piece": 1})
    text = " ".join(text_of(bytes_of(printed(asked))).split())
    assert "all measured and within their limits" in text
    assert "10.00 … 10.05 mm 10.01 mm" in text
    assert "within their limits. Measured on " in text


def test_a_first_article_report_names_the_nonconformances_of_its_piece_alone(lead):
    lot = a_measured_lot(lead, bores=("10.06", "10.07"))
    told = reports.first_article(Paper(job=lot.job, lot=lot, chosen={"piece": 1}))["nonconformances"]
    assert [(one["piece"], one["text"], one["verdict"]) for one in told] == [
        (1, "balloon 1 measures 10.06, limits 10.00 … 10.05 mm", "")
    ]


def test_a_first_article_report_of_a_good_piece_names_no_nonconformance(lead):
    lot = a_measured_lot(lead, bores=("10.01", "10.07"))
    assert "nonconformances" not in reports.first_article(Paper(job=lot.job, lot=lot, chosen={"piece": 1}))


def test_a_first_article_report_says_what_is_out_and_what_nobody_measured(lead):
    lot = a_measured_lot(lead, bores=("10.06",))
    facts = reports.first_article(Paper(job=lot.job, lot=lot, chosen={"piece": 1}))
    assert [row["accept"] for row in facts["rows"]] == [False, True]
    again = reports.first_article(Paper(job=lot.job, lot=lot, chosen={"piece": 2}))
    assert again["open"] == 2


@pytest.fixture
def a_report_in_parts(lead, monkeypatch):
    """Twelve pieces, the last of them out; summary, ten pieces and two pieces, each set by itself."""
    monkeypatch.setattr(reports, "VALUES_A_PART", 10)
    bores = [*(f"10.{n:02}" for n in range(1, 12)), "10.06"]
    return bytes_of(a_report(a_measured_lot(lead, bores=["10.01", *bores[1:]], quantity=12), lead))


def test_an_inspection_report_holds_every_value_and_numbers_its_parts_through(a_report_in_parts):
    pages = [page.extract_text() for page in pages_of(a_report_in_parts)]
    assert [page.split()[-1] for page in pages] == ["1", "2", "3"]
    text = " ".join(pages)
    assert all(f"10.{n:02}" in text for n in range(2, 12))
    assert "!10.06" in text  # out of its limits, marked by more than type


def test_an_inspection_report_goes_ten_pieces_a_row(lead):
    lot = a_measured_lot(lead, bores=["10.01"] * 12, quantity=12)
    blocks = reports.blocks(reports.inspection_report(Paper(job=lot.job, lot=lot)))
    assert [block["pieces"] for block in blocks] == [list(range(1, 11)), [11, 12]]


def test_a_machinist_prints_no_certificate(lead, machinist):
    shipment = shipped(lead)
    with pytest.raises(PermissionDenied):
        actions.ask(shipment.job, Paper.Kind.CERTIFICATE, by=machinist, shipment=shipment)


def test_a_certificate_is_about_a_shipment(lead):
    lot = a_measured_lot(lead)
    with pytest.raises(CoreError, match="ship first"):
        actions.ask(lot.job, Paper.Kind.CERTIFICATE, by=lead, lot=lot)


def test_a_paper_about_another_jobs_lot_is_refused(lead):
    one, other = a_measured_lot(lead), a_measured_lot(lead)
    with pytest.raises(CoreError, match="Say which shipment or lot"):
        actions.ask(one.job, Paper.Kind.INSPECTION, by=lead, lot=other)


def scanned(client, paper):
    return " ".join(client.get(reverse("papers:scan", args=[paper.pk])).content.decode().split())


def test_a_scanned_paper_that_holds_says_so(lead, client):
    client.force_login(lead)
    paper = paper_of(shipped(lead), Paper.Kind.CERTIFICATE)
    assert "the records still say what it says" in scanned(client, paper)


def test_a_paper_printed_again_supersedes_the_one_before(lead, client):
    client.force_login(lead)
    old = paper_of(shipped(lead), Paper.Kind.CERTIFICATE)
    client.post(reverse("papers:again", args=[old.pk]))
    assert "This paper is superseded" in scanned(client, old)
    assert queries.superseded(old.job.papers.all()) == {old.pk}


def test_more_labels_do_not_make_the_first_ones_void(lead, client):
    client.force_login(lead)
    lot = a_measured_lot(lead)
    first = printed(actions.ask(lot.job, Paper.Kind.LABELS, by=lead, lot=lot, chosen={"labels": 1, "on": "sheet"}))
    actions.ask(lot.job, Paper.Kind.LABELS, by=lead, lot=lot, chosen={"labels": 1, "on": "sheet"})
    assert "the records still say what it says" in scanned(client, first)


def test_a_paper_that_the_records_have_left_behind_says_so(lead, client):
    client.force_login(lead)
    lot = a_measured_lot(lead)
    paper = printed(actions.ask(lot.job, Paper.Kind.LABELS, by=lead, lot=lot, chosen={"labels": 1, "on": "sheet"}))
    jobs.change_customer(lot.job.customer, by=lead, name="Brookside Pumps and Valves", address="")
    assert "say something else today" in scanned(client, paper)


def test_the_pages_offer_papers_and_show_them(lead, client):
    client.force_login(lead)
    shipment = shipped(lead)
    paper_of(shipment, Paper.Kind.CERTIFICATE)
    page = client.get(shipment.job.get_absolute_url()).content.decode()
    for words in ("Certificate of conformance 1", "Packing slip 1", "First-article report", "Labels"):
        assert words in page


def test_a_paper_asked_for_with_a_slip_in_the_form_is_refused_in_words(lead, client):
    client.force_login(lead)
    lot = a_measured_lot(lead)
    to = reverse("papers:ask", args=[lot.job_id, "labels"])
    answer = client.post(to, {"lot": lot.pk, "labels": "0", "on": "sheet"}, follow=True)
    assert "greater than or equal to 1" in answer.content.decode()
    assert not lot.job.papers.exists()
