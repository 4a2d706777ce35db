"""QR codes (ISO/IEC 18004) as pictures made of one path."""

from __future__ import annotations

import segno
from django.utils.safestring import SafeString, mark_safe

MODULE_MM = 0.45
"""0.33 mm is a workable floor and 0.5 comfortable on paper; common practice, no source. Quiet zone: 4 modules (ISO/IEC
18004)."""


LABEL_MODULE_MM = 0.6
"""Labels are read from further away, through film and oil."""


def qr_svg(text: str, *, module_mm: float = MODULE_MM) -> SafeString:
    """The code of an address, error correction M, with its quiet zone, at module_mm a module."""
    code = segno.make(text, error="m", micro=False)
    svg = code.svg_inline(scale=module_mm, unit="mm", border=4, dark="#000", light=None, svgclass="qr", lineclass=None)
    return mark_safe(svg)
