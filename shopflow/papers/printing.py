"""From HTML to PDF. Pages may fetch nothing but the fonts of the project itself."""

from __future__ import annotations

import atexit
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from django.conf import settings
from django.template.loader import render_to_string

from shopflow.core.errors import NotPossible

STYLE = Path(__file__).parent / "paper.css"
FONTS = {
    "archivo": Path("@fontsource-variable/archivo/files/archivo-latin-standard-normal.woff2"),
    "mono": Path("@fontsource/ibm-plex-mono/files/ibm-plex-mono-latin-400-normal.woff2"),
    "mono-bold": Path("@fontsource/ibm-plex-mono/files/ibm-plex-mono-latin-600-normal.woff2"),
}
"""By the name that paper.css calls them; where the front-end packages are not installed the system's fonts stand in."""

IN_PARTS = "@page { @bottom-right { content: counter(page); } }"
"""How many pages there are in all is not known while the first part is set."""
GOES_ON = """@page :first {{ counter-reset: page {number};
  @top-left {{ content: string(sheet-job); }} @top-right {{ content: string(sheet-name); }} }}"""
"""Style of a part behind another one: its first page is numbered on, and headed like every other page."""


@dataclass(frozen=True)
class Part:
    """Some of the pages of a paper, which are set by themselves."""

    template: str
    context: dict[str, Any]


def to_pdf(template: str, context: dict[str, Any], *, page: str = "") -> bytes:
    """Render a template as PDF. page: CSS for the size of the page. Raises NotPossible when nothing came out."""
    return in_parts([Part(template, context)], page=page)


def in_parts(parts: Sequence[Part], *, page: str = "", told: Callable[[int], None] = lambda _part: None) -> bytes:
    """Render parts one after the other into one PDF with its pages numbered through; told: each part that is done.

    Setting a table takes memory and time with every row that stands before it, so a long one is set in parts.
    """
    fonts, style = _style()
    documents: list[Any] = []
    pages: list[Any] = []
    for number, part in enumerate(parts, start=1):
        extra = page + (IN_PARTS if len(parts) > 1 else "") + (GOES_ON.format(number=len(pages) + 1) if pages else "")
        document = _layout(part, [style, *_sheets(extra, fonts)], fonts)
        documents.append(document)
        pages.extend(document.pages)
        told(number)
    pdf = documents[0].copy(pages).write_pdf() if documents else None
    if not isinstance(pdf, bytes):
        raise NotPossible("The page was not printed. Try again.")
    return pdf


def _layout(part: Part, styles: list[Any], fonts: Any) -> Any:
    # Half a second to import, and only the worker needs it.
    from weasyprint import HTML

    html = HTML(string=render_to_string(part.template, part.context), **_known())
    return html.render(stylesheets=styles, font_config=fonts)


def _sheets(text: str, fonts: Any) -> list[Any]:
    from weasyprint import CSS

    return [CSS(string=text, font_config=fonts, **_known())] if text else []


@cache
def _style() -> tuple[Any, Any]:
    """The fonts and the style sheet of all papers, read once a process: unpacking the fonts takes most of a second."""
    from weasyprint import CSS
    from weasyprint.text.fonts import FontConfiguration

    fonts = FontConfiguration()
    return fonts, CSS(string=STYLE.read_text(), font_config=fonts, **_known())


# Before the interpreter takes itself apart: the fonts remove their temporary folder when they go.
atexit.register(_style.cache_clear)


def _known() -> dict[str, Any]:
    return {"url_fetcher": own_fonts_only(), "base_url": "paper:/"}


def own_fonts_only() -> Any:
    """A fetcher for WeasyPrint that knows the project's fonts and raises ValueError for every other address."""
    from weasyprint.urls import URLFetcher, URLFetcherResponse

    class OwnFontsOnly(URLFetcher):  # type: ignore[misc]  # untyped library
        def fetch(self, url: str, headers: object = None) -> Any:
            name = url.removeprefix("paper:").strip("/")
            path = settings.BASE_DIR / "node_modules" / FONTS[name] if name in FONTS else None
            if path is None or not path.exists():
                raise ValueError(f"a paper may not fetch {url}")
            return URLFetcherResponse(url, path.read_bytes(), {"Content-Type": "font/woff2"})

    return OwnFontsOnly()
