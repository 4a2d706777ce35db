"""What walks through a whole job share: pressing buttons, running ops by their codes, reading a traveler."""

import io
import re

import pypdf
import zxingcpp

from tests.pdf import pictures_of


def is_sent(response):
    return response.request.method == "POST"


def send(page, words):
    """Press a button that sends something, and wait until what answers it is there: a page, or a part of one."""
    press(page, page.get_by_role("button", name=words).first)


def press(page, button):
    if button.evaluate("button => button.closest('[hx-post]') !== null"):
        with page.expect_response(is_sent):
            button.click()
    else:
        with page.expect_event("load"):
            button.click()


def move_on(page, job, words):
    """The button beside what's missing, on the job's page."""
    page.goto(f"/job/{job}/")
    send(page, words)
    page.wait_for_selector("text=The job moved on.")


def material_is_removed(page):
    """Wait on a program's page until its material was removed, and the page drawn anew with what that found."""
    page.wait_for_selector("#removal:not([data-arrived]):has-text('removed')", timeout=90_000)


def receive_and_print(page, job, heat=""):
    """Mark the material as received, make the packet and wait for its traveler; the bytes of the PDF."""
    page.goto(f"/job/{job}/")
    page.check("[name=received]")
    page.fill("[name=heat_number]", heat)
    press(page, page.locator("form:has([name=received]) button"))
    send(page, "Make the packet")
    page.wait_for_selector("a:has-text('Traveler (PDF)')", timeout=90_000)
    return page.request.get(page.get_attribute("a:has-text('Traveler (PDF)')", "href")).body()


def text_of(pdf):
    return "\n".join(sheet.extract_text() for sheet in pypdf.PdfReader(io.BytesIO(pdf)).pages)


def codes_of(pdf):
    """What an independent reader of codes sees where the routing is, as a scanner would; from top to bottom."""
    pages = [zxingcpp.read_barcodes(picture) for picture in pictures_of(pdf, first=2)]
    found = [code.text for page in pages for code in sorted(page, key=lambda code: code.position.top_left.y)]
    return list(dict.fromkeys(found))


def ops_of(codes):
    """The addresses of the ops, in the order of the routing."""
    return [code for code in codes if "/floor/packet/" in code]


def run_ops(page, addresses, quantity):
    """Open each op's code in turn as the machinist, start it, and count its pieces good; finish the first."""
    for address in addresses:
        page.goto(address[address.index("/floor/") :])
        page.wait_for_selector("text=Not started")
        for box in page.locator("#op form [type=checkbox]").all():
            box.check()
        send(page, re.compile("^Start"))
        for words in ("First piece is good", "Sign the edge sheet"):
            if page.get_by_role("button", name=words).count():
                send(page, words)
        note_what_was_set(page)
        page.fill("[name=quantity] >> nth=0", str(quantity))
        send(page, re.compile("^Count good"))
        if address == addresses[0]:
            send(page, re.compile("^Finish the op"))


def note_what_was_set(page):
    """At an op that ran a program the last pieces leave only with a record of what was set there."""
    asked = page.locator("summary", has_text="Note what was set")
    if asked.count():
        asked.click()
        page.fill("[name=feed_override]", "100")
        send(page, "Note it")


def measure(page, part, values):
    """The inspector types one value a balloon for the first piece, and lets the lot pass."""
    page.goto("/inspection/")
    page.locator("a.target", has_text=part).click()
    for balloon, value in values.items():
        cell = page.get_by_label(f"balloon {balloon}, piece 1")
        with page.expect_response(is_sent):
            cell.fill(value)
            cell.press("Tab")
    page.wait_for_selector("text=Everything required is measured and decided.")
    send(page, re.compile("^They pass"))
    page.wait_for_selector("text=Counted on to the next step.")


def ship_and_close(page, job):
    """Ship what stands at the last op, wait for its papers, and close; the text of the certificate."""
    page.goto(f"/job/{job}/")
    send(page, re.compile("^Ship$"))
    page.wait_for_selector("text=Shipped.")
    certificate = page.get_by_role("link", name="Certificate of conformance")
    certificate.wait_for(timeout=90_000)
    page.get_by_role("link", name="Packing slip").wait_for(timeout=90_000)
    pdf = page.request.get(certificate.get_attribute("href")).body()
    move_on(page, job, "Close the job")
    page.wait_for_selector("text=Every piece is accounted for.")
    return " ".join(text_of(pdf).split())
