"""Looking at PDF pages as a person would: as pictures, drawn by a renderer that nobody here wrote (pdfium)."""

from itertools import islice

import pypdfium2


def pictures_of(pdf, dpi=200, *, first=None):
    """Pages as pictures: all, or the first few."""
    with pypdfium2.PdfDocument(pdf) as document:
        return [page.render(scale=dpi / 72).to_pil() for page in islice(document, first)]
