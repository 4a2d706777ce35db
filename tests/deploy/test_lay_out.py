"""Bringing a data folder up to date: what is done once is not done again, and what changed is."""

import os

import pytest

import shopflow.core
from shopflow.deploy import lay_out, warm


@pytest.fixture
def file(tmp_path):
    path = tmp_path / "a.css"
    path.write_text("body {}")
    return path


def state(folder):
    return lay_out.state_of(folder.iterdir())


def test_the_state_of_files_stays_while_nobody_touches_them(file):
    assert state(file.parent) == state(file.parent)


def test_the_state_of_files_changes_when_one_is_written(file):
    before = state(file.parent)
    file.write_text("body { }")
    assert state(file.parent) != before


def test_the_state_of_files_changes_when_one_is_written_with_the_same_length(file):
    before = state(file.parent)
    os.utime(file, (1, 1))
    assert state(file.parent) != before


def test_the_state_of_files_changes_when_one_is_added(file):
    before = state(file.parent)
    file.with_name("b.css").touch()
    assert state(file.parent) != before


def test_sources_of_the_bundles_are_not_served():
    assert [path for path in lay_out.static_files() if "src" in path.parts[path.parts.index("static") :]] == []


@pytest.fixture
def kernels(monkeypatch, tmp_path):
    """A part of the core with kernels, as warm finds them on disk."""
    part = tmp_path / "trying"
    part.mkdir()
    (part / "__init__.py").touch()
    (part / "kernels.py").write_text("calls = []\n\n\ndef warm():\n    calls.append(1)\n")
    monkeypatch.setattr(shopflow.core, "__path__", [*shopflow.core.__path__, str(tmp_path)])


def test_kernels_of_every_part_of_the_core_are_warmed(kernels):
    assert "shopflow.core.trying.kernels" in warm.warm_kernels()
