"""The page of what the reader reads says what the code does."""

import re

import pytest

from shopflow.core import nc
from shopflow.core.nc import codes
from shopflow.core.nc.control_values import EXTRA_CODES
from tests.core.nc.reading_help import ROOT

PAGE = (ROOT / "shopflow" / "docs" / "reading-programs.md").read_text()
BY_REPORT, BY_PROFILE = PAGE.split("## By profile")


def rows(text):
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in text.splitlines() if line[:2] == "| "]


def test_the_codes_of_the_report_are_listed_by_group():
    listed = {group: found.split() for group, found in rows(BY_REPORT)[2:]}
    read = {group: [codes.name(code) for code in members] for group, members in codes.REPORT_G.items()}
    read |= {group: [codes.name(code, "M") for code in members] for group, members in codes.REPORT_M.items()}
    assert listed == read


def test_the_codes_of_profiles_are_listed_with_who_has_them():
    table = rows(BY_PROFILE)
    names = table[0][2:]
    listed = {row[0]: dict(zip(names, row[2:], strict=True)) for row in table[2:]}
    has = {
        code: {name: "yes" if code in nc.CONTROLS[name].extra_codes else "no" for name in names} for code in EXTRA_CODES
    }
    assert listed == has
    assert set(names) == {name for name, profile in nc.CONTROLS.items() if profile.extra_codes}


@pytest.mark.parametrize("code", EXTRA_CODES)
def test_the_plain_profile_has_no_code_beyond_the_report(code):
    lines = f"G21 G90 G54 G0 X1 Z1\n{re.sub(' L', ' P1 X0 L', code)}\n"
    assert nc.read(lines.encode()).unread
