"""Every class that a template of a page names is one that the style sheets know: a misspelt one shows nothing."""

import re
from pathlib import Path

import pytest
from django.conf import settings

ROOT = Path(settings.BASE_DIR) / "shopflow"
SOURCES = ROOT / "static" / "src"
PAPERS = ROOT / "papers"  # printed, with a style sheet of their own
TEMPLATES = sorted(path for path in ROOT.rglob("templates/**/*.html") if PAPERS not in path.parents)
KNOWN = set(re.findall(r"\.([a-z][\w-]*)", "".join(path.read_text() for path in SOURCES.rglob("*.css"))))
HOOKS = {"findings"}  # groups that need no style of their own


def classes(text):
    """Whole class names; parts that a template tag completes are left out."""
    named = re.findall(r'class="((?:[^"{]|\{%.*?%\}|\{\{.*?\}\})*)"', text)
    # A tag glued to a name (stage-{{ state }}) makes it incomplete; a tag between names only chooses among them.
    for attribute in named:
        attribute = re.sub(r"[\w-]*\{\{.*?\}\}[\w-]*", " ", attribute)
        attribute = re.sub(r"[\w-]+-\{%.*?%\}.*", " ", attribute)
        yield from re.sub(r"\{%.*?%\}", " ", attribute).split()


def test_the_style_sheets_are_read():
    assert {"button-you", "strip-op-now", "table-cards"} <= KNOWN


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_its_classes_are_known(path):
    assert set(classes(path.read_text())) <= KNOWN | HOOKS
