"""One value, one text. Outside check: RFC 8785 (JSON Canonicalization Scheme), whose form this is without floats."""

import json
from datetime import UTC, date, datetime, timedelta, timezone
from decimal import Decimal
from enum import StrEnum

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.records.canonical import MOST_DIGITS, canonical, decimal_text, digest

texts = st.text(st.characters(exclude_categories=["Cs"]))
decimals = st.decimals(-(10**9), 10**9, allow_nan=False, allow_infinity=False, places=6)
moments = st.datetimes(timezones=st.just(UTC))
leaves = st.none() | st.booleans() | st.integers() | texts | decimals | st.dates() | moments
values = st.recursive(leaves, lambda inner: st.lists(inner) | st.dictionaries(texts, inner), max_leaves=20)


def test_keys_are_sorted_as_in_rfc_8785():
    """RFC 8785, section 3.2.3: the order expected there for these seven keys (values from memory, keys as printed)."""
    unsorted = {"\u20ac": 1, "\r": 2, "\ufb33": 3, "1": 4, "\U0001f600": 5, "\u0080": 6, "\u00f6": 7}
    expected = ["\r", "1", "\u0080", "\u00f6", "\u20ac", "\U0001f600", "\ufb33"]
    assert list(json.loads(canonical(unsorted))) == expected


def test_text_is_escaped_as_in_rfc_8785():
    """RFC 8785, section 3.2.2.2: two-letter escapes where they exist, else \\u00xx in lower case, all else as it is."""
    assert canonical('€$\x0f\nA\'B"\\\\"/') == '"€$\\u000f\\nA\'B\\"\\\\\\\\\\"/"'


@given(values)
def test_canonical_text_is_read_back_to_the_same_canonical_text(value):
    text = canonical(value)
    assert canonical(json.loads(text)) == text


@given(st.dictionaries(texts, leaves, min_size=2))
def test_the_order_in_which_keys_were_given_does_not_matter(value):
    assert canonical(dict(reversed(list(value.items())))) == canonical(value)


@given(decimals)
def test_decimal_text_is_the_same_number_without_exponent(value):
    text = decimal_text(value)
    assert Decimal(text) == value
    assert "e" not in text.lower()


@given(decimals, st.integers(0, 20))
def test_trailing_zeros_make_no_other_number(value, zeros):
    longer = value.quantize(Decimal(1).scaleb(-6 - zeros), context=None if zeros < 8 else _long_context())
    assert canonical(longer) == canonical(value)


def _long_context():
    from decimal import Context

    return Context(prec=60)


@given(moments, st.integers(-14, 14))
def test_one_moment_is_one_text_in_every_time_zone(moment, hours):
    try:
        elsewhere = moment.astimezone(timezone(timedelta(hours=hours)))
    except OverflowError:
        return
    assert canonical(elsewhere) == canonical(moment)


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (Decimal("-0.00"), '"0"'),
        (Decimal("1E+3"), '"1000"'),
        (Decimal("12.500"), '"12.5"'),
        (Decimal("100"), '"100"'),
        (True, "true"),
        (StrEnum("Weight", {"DECIDE": "decide"}).DECIDE, '"decide"'),
        (date(2026, 2, 3), '"2026-02-03"'),
        (datetime(2026, 2, 3, 4, 5, 6, tzinfo=UTC), '"2026-02-03T04:05:06.000000+00:00"'),
        ({"b": (1, None), "a": {}}, '{"a":{},"b":[1,null]}'),
    ],
)
def test_known_values_have_known_texts(value, text):
    assert canonical(value) == text


@pytest.mark.parametrize("value", [0.1, {"a": [1.0]}, float("nan"), object(), {1: "a"}, b"bytes", {1, 2}])
def test_what_has_no_agreed_text_is_refused_as_a_wrong_type(value):
    with pytest.raises(TypeError):
        canonical(value)


@pytest.mark.parametrize(
    "value",
    [
        Decimal("NaN"),
        Decimal("Infinity"),
        Decimal(f"1E+{MOST_DIGITS + 1}"),
        Decimal(f"1E-{MOST_DIGITS + 1}"),
        datetime(2026, 1, 1),
        "\ud800",
        {"\ud800": 1},
    ],
)
def test_what_is_no_number_time_or_text_is_refused(value):
    with pytest.raises(ValueError):
        canonical(value)


def test_the_digest_is_the_sha256_of_the_text():
    """FIPS 180-4 SHA-256 of the two bytes {} by coreutils: printf {} | sha256sum."""
    assert digest({}) == "44136fa355b3678a1146ad16f7e8649e94fb4fc21fe77e8310c060f61caaff8a"
