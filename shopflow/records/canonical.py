"""One text for one value: the JSON that is hashed, signed and compared.

The form is that of RFC 8785 (JSON Canonicalization Scheme): no white space, keys sorted by their UTF-16 units, the
shortest escapes. Binary floats are refused, since 0.1 + 0.2 has no text that two programs agree on; decimals travel as
text without an exponent, and equal decimals give equal text.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from datetime import UTC, date, datetime
from decimal import Decimal

MOST_DIGITS = 60
"""Decimals longer than this before or after the point are no number of a shop."""


def canonical(value: object) -> str:
    """The canonical JSON of a value made of None, bool, int, str, Decimal, date, aware datetime, list, tuple, dict.

    Raises TypeError for any other type (float above all) and ValueError for a number or text that has no JSON form.
    """
    return json.dumps(_plain(value), ensure_ascii=False, separators=(",", ":"), allow_nan=False)


def digest(value: object) -> str:
    """SHA-256 of the canonical JSON, as 64 lower-case hexadecimal digits."""
    return hashlib.sha256(canonical(value).encode()).hexdigest()


def _plain(value: object) -> object:
    match value:
        case None | bool():
            return value
        case int():
            return int(value)
        case str():
            return _text(value)
        case Decimal():
            return decimal_text(value)
        case datetime():
            return _moment(value)
        case date():
            return value.isoformat()
        case list() | tuple():
            return [_plain(item) for item in value]
        case Mapping():
            return {key: _plain(value[key]) for key in sorted(map(_key, value), key=_utf16)}
    raise TypeError(f"{type(value).__name__} has no canonical form; give text, int, Decimal, date, list or dict")


def _key(key: object) -> str:
    if not isinstance(key, str):
        raise TypeError(f"keys are text, not {type(key).__name__}")
    return _text(key)


def _text(value: str) -> str:
    """The bare text (an enum's value, not its name), refused where it is no Unicode (a lone surrogate)."""
    text = str.__str__(value)
    text.encode()
    return text


def _utf16(key: str) -> bytes:
    return key.encode("utf-16-be")


def decimal_text(value: Decimal) -> str:
    """A decimal as text: no exponent, no trailing zeros, no minus before zero; 1.50 and 1.5 are the same number."""
    if not value.is_finite():
        raise ValueError(f"{value} is not a number that can be kept")
    _, digits, exponent = value.as_tuple()
    if max(abs(int(exponent)), len(digits)) > MOST_DIGITS:
        raise ValueError("this number has too many digits to be kept")
    text = format(value, "f")
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if value == 0 else text


def _moment(value: datetime) -> str:
    if value.tzinfo is None:
        raise ValueError("a time without a time zone says nothing")
    return value.astimezone(UTC).isoformat(timespec="microseconds")
