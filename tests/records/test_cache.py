import os
from decimal import Decimal

import pytest

from shopflow.records import cache

from .conftest import in_threads


def name(number: int) -> str:
    return cache.key("mesh", sha256="ab", deflection=Decimal(number))


def test_what_was_written_is_read():
    cache.write(name(1), b"triangles")
    assert cache.read(name(1)) == b"triangles"


def test_what_was_never_written_is_none():
    assert cache.read(name(1)) is None


def test_other_inputs_are_another_result():
    assert cache.key("mesh", sha256="ab") != cache.key("mesh", sha256="ac") != cache.key("picture", sha256="ac")


def test_a_float_makes_no_key():
    with pytest.raises(TypeError):
        cache.key("mesh", deflection=0.1)


def test_the_cache_may_be_emptied_at_any_time(settings):
    cache.write(name(1), b"triangles")
    cache._path(name(1)).unlink()
    assert cache.read(name(1)) is None
    cache.write(name(1), b"triangles")
    assert cache.read(name(1)) == b"triangles"


def test_over_the_limit_what_was_used_longest_ago_goes_first():
    for number in range(4):
        cache.write(name(number), b"1234")
        os.utime(cache._path(name(number)), (number, number))
    cache.read(name(0))
    assert cache.trim(most_bytes=8) == 8
    assert [cache.read(name(number)) is not None for number in range(4)] == [True, False, False, True]


def test_writing_trims_when_it_is_time(monkeypatch):
    monkeypatch.setattr(cache, "MOST_BYTES", 4)
    monkeypatch.setattr(cache, "TRIM_EVERY_S", -1.0)
    for number in range(3):
        cache.write(name(number), b"1234")
        os.utime(cache._path(name(number)), (number, number))
    cache.write(name(3), b"1234")
    assert [cache.read(name(number)) is not None for number in range(4)] == [False, False, False, True]


def test_readers_never_see_half_of_what_eight_write_at_once():
    contents = [bytes([number]) * 300_000 for number in range(8)]

    def write_and_read(number: int) -> None:
        for _ in range(10):
            cache.write(name(0), contents[number])
            assert cache.read(name(0)) in contents

    in_threads(8, write_and_read)
