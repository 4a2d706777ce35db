"""Looking at PDF pages as a person would: as pictures, drawn by a renderer that nobody here wrote (pdfium)."""

import pypdfium2


def pictures_of(pdf, dpi=200, *, first_only=False):
    """Every page as a picture, or the first alone."""
    with pypdfium2.PdfDocument(pdf) as document:
        pages = [document[0]] if first_only else document
        return [page.render(scale=dpi / 72).to_pil() for page in pages]
