import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.programs.calls import MOST_NUMBERS, find


@pytest.mark.parametrize(
    ("text", "numbers"),
    [
        (b"T1 M6", (1,)),
        (b"t07m6", (7,)),
        (b"G43 H12 Z50.", (12,)),
        (b"G42 D08", (8,)),
        (b"T0 M6", ()),
        (b"X10. Y20.", ()),
        (b"T1 M6\nG43 H1\nT3 M6", (1, 3)),
        (b"T 5", (5,)),
    ],
)
def test_numbers_behind_t_h_and_d_are_found(text, numbers):
    assert find(text).numbers == numbers


@pytest.mark.parametrize("text", [b"T#100 M6", b"T[#1+1] M6", b"G43 H#2"])
def test_a_computed_number_may_be_any(text):
    assert find(text).any


def test_a_text_with_too_many_numbers_may_call_any():
    assert find(b" ".join(b"T%d" % number for number in range(1, MOST_NUMBERS + 2))).any


@given(st.binary(max_size=300))
def test_any_bytes_give_an_answer(data):
    assert all(0 < number < 1_000_000 for number in find(data).numbers)
