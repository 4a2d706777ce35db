"""What the text of a STEP file (ISO 10303-21) says before any geometry is built: schema, units, names."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

NAME_CHARACTERS = 120
_X2 = re.compile(r"\\X2\\((?:[0-9A-Fa-f]{4})*)\\X0\\")
_X4 = re.compile(r"\\X4\\((?:[0-9A-Fa-f]{8})*)\\X0\\")
_X1 = re.compile(r"\\X\\([0-9A-Fa-f]{2})")
_S = re.compile(r"\\S\\(.)")
_PAGE = re.compile(r"\\P[A-I]\\")

_SCHEMA = re.compile(rb"FILE_SCHEMA\s*\(\s*\(\s*'([^']*)'", re.IGNORECASE)
_CONTEXT = re.compile(rb"GLOBAL_UNIT_ASSIGNED_CONTEXT\s*\(\s*\(([^)]{0,400})\)")
_REFERENCE = re.compile(rb"#(\d+)")
_CONVERSION = re.compile(rb"CONVERSION_BASED_UNIT\s*\(\s*'([^']{0,80})'")
_SI = re.compile(rb"SI_UNIT\s*\(\s*(?:\.(\w+)\.|\$)\s*,\s*\.METRE\.")
_LIMITS = re.compile(rb"TOLERANCE_VALUE\s*\(\s*#(\d+)\s*,\s*#(\d+)\s*\)")
_PRODUCT = re.compile(rb"[=\s]PRODUCT\s*\(\s*'((?:[^']|''){0,400})'")
_FORMATION = re.compile(rb"PRODUCT_DEFINITION_FORMATION(?:_WITH_SPECIFIED_SOURCE)?\s*\(\s*'((?:[^']|''){0,400})'")
_LENGTH_UNIT = re.compile(rb"#(\d+)\s*=\s*\(([^;]{0,400}?LENGTH_UNIT\s*\(\s*\)[^;]{0,400})\)\s*;")

MM_PER_UNIT = {
    "micrometre": 0.001,
    "millimetre": 1.0,
    "centimetre": 10.0,
    "decimetre": 100.0,
    "metre": 1000.0,
    "kilometre": 1e6,
    "inch": 25.4,
    "foot": 304.8,
    "yard": 914.4,
    "mil": 0.0254,
}
"""Millimetres in each unit that may be named in a file; the inch is exact since 1959."""

_SPELLINGS = {
    "in": "inch",
    "inches": "inch",
    "ft": "foot",
    "feet": "foot",
    "mm": "millimetre",
    "cm": "centimetre",
    "m": "metre",
    "millimeter": "millimetre",
    "centimeter": "centimetre",
    "meter": "metre",
    "micrometer": "micrometre",
    "micron": "micrometre",
    "thou": "mil",
}
_SCHEMAS = (
    ("AP242", ("AP242",)),
    ("AP214", ("AUTOMOTIVE_DESIGN", "AP214")),
    ("AP203", ("CONFIG_CONTROL_DESIGN", "AP203", "CONFIGURATION_CONTROL")),
)


@dataclass(frozen=True)
class Units:
    """Length units of a file. named: each unit that some representation uses, in the order met; may be empty."""

    named: tuple[str, ...]

    @property
    def main(self) -> str:
        return self.named[0] if self.named else ""

    @property
    def is_mixed(self) -> bool:
        return len(self.named) > 1


def schema(data: bytes) -> str:
    """ "AP203", "AP214" or "AP242"; another schema's own name, cleaned; "" when none is declared."""
    found = _SCHEMA.search(data[:65536])
    if not found:
        return ""
    name = clean(found[1].decode("latin-1")).upper()
    return next((short for short, marks in _SCHEMAS if any(mark in name for mark in marks)), name.split("{")[0].strip())


def units(data: bytes) -> Units:
    """Length units that the file's representation contexts refer to.

    The text is read because the library's own list may come back with an empty name for a unit that it scales by
    rightly. A unit that is only the base of a conversion (the millimetre an inch is defined by) is not in use.
    """
    by_number = {found[1]: unit_name(found[2]) for found in _LENGTH_UNIT.finditer(data)}
    used = [ref for context in _CONTEXT.finditer(data) for ref in _REFERENCE.findall(context[1]) if ref in by_number]
    names = [by_number[ref] for ref in used] or [unit_name(found[2]) for found in _LENGTH_UNIT.finditer(data)][:1]
    return Units(tuple(dict.fromkeys(name for name in names if name)))


def product(data: bytes) -> tuple[str, str]:
    """Number and revision of the part as the file names them; "" where it names none, or several.

    A revision here is what the exporter wrote into the product's version (ISO 10303-41): often nothing, at times the
    name of a standard. It is a hint to a person and no more.
    """
    found = ({clean(match.decode("latin-1")) for match in kind.findall(data)} - {""} for kind in (_PRODUCT, _FORMATION))
    number, revision = (names.pop() if len(names) == 1 else "" for names in found)
    return number, revision


def limits_span_nominal(data: bytes) -> bool:
    """Whether no plus-minus tolerance of the file has a lower limit above its nominal, or an upper one below it."""
    for lower, upper in _LIMITS.findall(data):
        low, high = (
            re.search(rb"#%s\s*=\s*\([^;]*?_MEASURE\(\s*([-+.\dEe]+)\s*\)" % number, data) for number in (lower, upper)
        )
        if low and high and (float(low[1]) > 0 or float(high[1]) < 0):
            return False
    return True


def unit_name(definition: bytes) -> str:
    """The lower-case word for the unit that an entity's text defines; "" when it defines none of length."""
    conversion = _CONVERSION.search(definition)
    if conversion:
        return spelled(clean(conversion[1].decode("latin-1")))
    si = _SI.search(definition)
    return ((si[1] or b"").decode("latin-1") + "metre").lower() if si else ""


def spelled(name: str) -> str:
    """The lower-case word for a unit however a file spells it."""
    lower = name.strip().lower()
    return _SPELLINGS.get(lower, lower)


def clean(text: str, limit: int = NAME_CHARACTERS) -> str:
    """A string of the file as it may be shown: its escapes decoded, control and direction marks gone, length bounded.

    Decodes the directives of ISO 10303-21 (X2, X4, X, S, P). What is left of them when they are malformed stays as it
    is typed. The result is plain text; a page still has to escape it.
    """
    text = text[: 8 * limit].replace("''", "'")
    text = _X2.sub(lambda m: _utf16(m[1]), text)
    text = _X4.sub(lambda m: _utf32(m[1]), text)
    text = _X1.sub(lambda m: chr(int(m[1], 16)), text)
    text = _S.sub(lambda m: chr((ord(m[1]) + 128) & 0xFF), _PAGE.sub("", text))
    shown = "".join(" " if letter.isspace() else letter for letter in text)
    shown = "".join(letter for letter in shown if not unicodedata.category(letter).startswith("C"))
    shown = " ".join(shown.split())
    return shown if len(shown) <= limit else shown[: limit - 1] + "…"


def _utf16(digits: str) -> str:
    return bytes.fromhex(digits).decode("utf-16-be", "replace")


def _utf32(digits: str) -> str:
    return bytes.fromhex(digits).decode("utf-32-be", "replace")
