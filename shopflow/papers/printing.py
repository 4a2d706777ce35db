"""From HTML to PDF. Pages may fetch nothing but the files of the project itself."""

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
    """Render a template as PDF. Raises NotPossible when a page asks for anything outside the project."""
    from weasyprint import CSS, HTML  # a second to import, and only the worker needs it

    html = HTML(string=render_to_string(template, context), url_fetcher=_fetch, base_url="paper:/")
    pdf = html.write_pdf(stylesheets=[CSS(string=STYLE.read_text(), url_fetcher=_fetch, base_url="paper:/")])
    if not isinstance(pdf, bytes):
        raise NotPossible("The page was not printed. Try again.")
    return pdf


def _fetch(url: str, *_: object, **__: object) -> dict[str, Any]:
    name = url.removeprefix("paper:/").strip("/")
    path = settings.BASE_DIR / "node_modules" / FONTS[name] if name in FONTS else None
    if path is None:
        raise ValueError(f"a paper may not fetch {url}")
    return {"string": path.read_bytes() if path.exists() else b"", "mime_type": "font/woff2"}
