"""Every kind of ledger row has a sentence."""

import re
from pathlib import Path

import pytest

from shopflow.records.models import LedgerRow
from shopflow.workflow.history import WORDS, words_of

CODE = Path(__file__).resolve().parents[2] / "shopflow"
APPENDED = re.compile(r'(?:ledger\.append|_report|_move_aside|_noted)\(\s*"([a-z_0-9]+)"')


def kinds_in_the_code():
    return sorted({kind for path in CODE.rglob("*.py") for kind in APPENDED.findall(path.read_text())})


@pytest.mark.parametrize("kind", kinds_in_the_code())
def test_a_kind_of_row_has_words(kind):
    assert kind in WORDS


def test_a_row_without_what_its_sentence_names_still_reads():
    row = LedgerRow(kind="counted_good", payload="{}")
    assert words_of(row) == "– counted good at op –"


def test_an_unknown_kind_is_shown_by_its_name():
    assert words_of(LedgerRow(kind="made_by_a_later_version", payload="{}")) == "made by a later version"


def test_a_row_in_which_a_word_is_empty_still_reads():
    row = LedgerRow(kind="material_received", payload='{"heat_number": ""}')
    assert words_of(row) == "material received, heat –"


def test_a_lapse_says_in_words_why_and_what_it_concerns():
    told = '{"why": "assumption", "what": ["tools.1.diameter", "a", "b", "c"], "revision": 3}'
    row = LedgerRow(kind="sign_off_lapsed", payload=told)
    assert words_of(row) == "the sign-off lapsed: something it stands on was changed (tools 1 diameter, a, b, …)"


def test_a_lapse_of_which_nothing_is_named_still_reads():
    row = LedgerRow(kind="sign_off_lapsed", payload='{"why": "bytes"}')
    assert words_of(row) == "the sign-off lapsed: other bytes"
