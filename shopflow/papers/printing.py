"""From HTML to PDF. Pages may fetch nothing but the fonts of the project itself."""

from __future__ import annotations

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


def to_pdf(template: str, context: dict[str, Any]) -> bytes:
    """Render a template as PDF. Raises NotPossible when nothing came out."""
    # Half a second to import, and only the worker needs it.
    from weasyprint import CSS, HTML
    from weasyprint.text.fonts import FontConfiguration

    fonts = FontConfiguration()
    known = {"url_fetcher": own_fonts_only(), "base_url": "paper:/"}
    style = CSS(string=STYLE.read_text(), font_config=fonts, **known)
    pdf = HTML(string=render_to_string(template, context), **known).write_pdf(stylesheets=[style], font_config=fonts)
    if not isinstance(pdf, bytes):
        raise NotPossible("The page was not printed. Try again.")
    return pdf


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
