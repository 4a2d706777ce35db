"""The traveler as other people's readers see it: text through pypdf, codes through zxing from the rendered page."""

import io

import pypdf
import pytest
import zxingcpp
from django.urls import resolve, reverse

from shopflow.floor import actions as reports
from shopflow.floor.models import Packet
from shopflow.papers import actions, printing
from shopflow.papers.printing import to_pdf
from shopflow.papers.traveler import context_of
from shopflow.people.models import Role
from shopflow.programs import queries as programs
from shopflow.records import files, ledger, work
from tests.pdf import pictures_of
from tests.people_fixtures import make_person
from tests.programs.objects import everyone_at_once
from tests.workflow.objects import at_release, with_material, with_packet

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def printed(rows_of_the_file):
    """One packet for all tests here, since printing takes a second or two."""
    lead = make_person("somebody_who_prints", Role.LEAD)
    everyone_at_once(lead)
    job = with_material(at_release(lead, setups=2, part_name="Slotted plate"), lead)
    return with_packet(job, lead)


@pytest.fixture(scope="module")
def pdf(printed):
    with files.open_file(printed.traveler) as stream:
        return stream.read()


@pytest.fixture
def packet(printed, db):
    """As the database has it: each test starts from there."""
    return Packet.objects.get(pk=printed.pk)


@pytest.fixture(scope="module")
def text(pdf):
    return text_of(pdf)


def text_of(pdf):
    return "\n".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf)).pages)


def test_the_traveler_says_what_is_made_of_what_for_whom(text):
    for words in ("Slotted plate", "Brookside Pumps", "BP-1140 rev C", "H-1188", "aluminium"):
        assert words in text


def test_the_traveler_names_program_and_hash_of_the_floor_copy(text, packet):
    copy = packet.floor_copies.get(use="lot")
    assert copy.file_name in text
    assert copy.stored.sha256 in text.replace("\n", "")


def test_a_stop_is_marked_between_two_setups(text):
    assert text.count("STOP: turn the part over") == 1


def test_every_op_has_a_code_that_opens_it(pdf, packet):
    codes = {code.text for code in zxingcpp.read_barcodes(pictures_of(pdf, first=1)[0])}
    paths = {code.partition("://")[2].partition("/")[2] for code in codes}
    opened = [resolve(f"/{path}") for path in paths]
    steps = {match.kwargs["step_id"] for match in opened if match.view_name == "floor:scan"}
    assert steps == set(packet.job.steps.values_list("pk", flat=True))


def test_cautions_stand_on_the_routing_and_on_every_setup(pdf, packet):
    pages = [page.extract_text().lower() for page in pypdf.PdfReader(io.BytesIO(pdf)).pages]
    assert sum("caution" in page for page in pages) == 1 + packet.job.setups.count()


def test_no_paper_says_that_a_program_is_safe(text):
    said = " ".join(text.split())
    assert "does not say that a program is safe" in said
    assert said.count("safe") == said.count("is safe")


def test_the_end_of_the_jobs_chain_is_printed_as_verify_records_reads_it(text, packet):
    chain = packet.job.chain
    printed = [line for line in text.split() if line == chain]
    hashes = [row.hash for row in ledger.rows_for(chain)]
    assert printed
    assert any(digest in text.replace("\n", "") for digest in hashes)


def test_what_a_person_typed_is_printed_as_text_and_never_as_markup(packet):
    packet.job.notes = "<b>bold</b> & <script>x</script>"
    packet.job.save()
    text = text_of(to_pdf("papers/traveler.html", context_of(packet)))
    assert "<b>bold</b> & <script>x</script>" in text


def test_a_worker_that_prints_again_makes_no_second_file(packet):
    row = packet.traveler_work
    assert work.run(row.pk, actions.print_traveler, save=actions.keep_traveler) is None
    assert Packet.objects.get(pk=packet.pk).traveler_id == packet.traveler_id


def test_a_paper_may_fetch_nothing_but_the_projects_fonts():
    fetcher = printing.own_fonts_only()
    for address in ("file:///etc/passwd", "https://example.org/x.png", "paper:/../../etc/passwd"):
        with pytest.raises(ValueError, match="may not fetch"):
            fetcher.fetch(address)


def test_a_setup_page_has_lines_for_what_is_measured_at_the_machine(pdf):
    text = " ".join(text_of(pdf).split())
    for words in ("STICKOUT SET", "GAUGE LENGTH", "LEAST STICKOUT, AS REVIEWED", "35 mm"):
        assert words in text


def test_a_setup_page_says_where_a_tool_may_start_again_and_whose_decision_that_is(text):
    said = " ".join(text.split())
    assert "Starting again inside a program is the machinist's decision, under the machine builder's manual" in said
    assert "T1 M6" in said


def test_a_setup_page_says_what_each_tool_and_the_setup_take_a_piece(packet, text):
    lines = [line for line in context_of(packet)["lines"] if line.seconds]
    section = programs.reading(lines[0].copy.revision)["sections"][0]
    assert lines[0].seconds[section["tool"]] >= section["seconds"] > 0
    assert "a piece in this setup, reckoned by the review" in " ".join(text.split())


def test_the_minutes_of_the_setups_make_up_those_of_their_program(packet):
    lines = [line for line in context_of(packet)["lines"] if line.copy]
    readings = {line.copy.revision_id: programs.reading(line.copy.revision) for line in lines}
    assert sum(line.cycle_s for line in lines) == pytest.approx(sum(one["cycle_s"] for one in readings.values()))


def test_the_code_on_the_head_of_an_old_traveler_says_that_it_is_superseded(packet, lead, client):
    client.force_login(lead)
    again = reports.make_packet(packet.job, by=lead, content_hash=packet.content_hash)
    answer = client.get(reverse("papers:scan_traveler", args=[packet.pk])).content.decode()
    assert "This paper is superseded" in answer
    assert client.get(reverse("papers:scan_traveler", args=[again.pk])).url == packet.job.get_absolute_url()


def test_a_setup_page_names_the_model_of_the_blank_and_its_hash(packet):
    stored = files.store(b"ISO-10303-21; a casting", media_type="model/step")
    name = "casting of the lower housing, pattern 4, as the foundry sent it on the second of May, revision C.step"
    blank = packet.job.files.create(kind="blank", stored=stored, name=name, uploaded_by=packet.job.created_by)
    packet.job.setups.filter(number=1).update(blank_file=blank)
    text = " ".join(text_of(to_pdf("papers/traveler.html", context_of(packet))).split())
    assert name in text and stored.sha256[:16] in text
