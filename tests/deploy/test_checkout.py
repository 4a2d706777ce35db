"""Promises about the files of the repository itself."""

import csv
import json
import re
import subprocess

import pytest

from shopflow.deploy import prepare

ROOT = prepare.ROOT
TOP_LEVEL = {
    ".ci", ".gitignore", ".npmrc", "DEVELOPERS.md", "Makefile", "README.md", "manage.py", "package-lock.json",
    "package.json", "pyproject.toml", "requirements.txt", "seed_data", "shopflow", "tests",
}  # fmt: skip


def tracked():
    listing = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True)
    if listing.returncode:
        pytest.skip("not a git checkout")
    return [name for name in listing.stdout.split("\0") if name]


def test_the_top_level_holds_what_is_agreed_and_nothing_else():
    assert {name.split("/")[0] for name in tracked()} <= TOP_LEVEL


@pytest.mark.parametrize("file", ["requirements.txt", "tests/requirements.txt"])
def test_every_python_package_is_pinned_to_one_version(file):
    lines = [line for line in (ROOT / file).read_text().splitlines() if line and not line.startswith(("#", "-r "))]
    assert [line for line in lines if not re.fullmatch(r"[\w.-]+(\[\w+\])?==[\w.]+", line)] == []


def test_every_front_end_package_is_pinned_to_one_version():
    wanted = json.loads((ROOT / "package.json").read_text())
    versions = [*wanted["dependencies"].values(), *wanted["devDependencies"].values()]
    assert [version for version in versions if not re.fullmatch(r"\d+\.\d+\.\d+", version)] == []


def test_the_lock_file_names_no_registry_and_proves_every_package():
    packages = json.loads((ROOT / "package-lock.json").read_text())["packages"]
    third_party = {name: entry for name, entry in packages.items() if name}
    assert [name for name, entry in third_party.items() if "resolved" in entry] == []
    assert [name for name, entry in third_party.items() if "integrity" not in entry] == []


def test_every_entry_point_was_bundled():
    names = [path.name for path in (prepare.STATIC / "src").glob("*.entry.*")]
    assert names
    if not (prepare.STATIC / "built").exists():
        pytest.skip("nothing was bundled here yet: make ready-to-test")
    bundled = {path.name for path in (prepare.STATIC / "built").iterdir()}
    assert {name.replace(".entry", "") for name in names} <= bundled


TOLD_BY_THE_SUPERVISOR = {"TLS_CERTIFICATE", "LAN_AUTHORITY"}
"""What it says to its own processes and nobody types."""


def test_every_setting_is_explained():
    code = [ROOT / "shopflow" / "settings.py", *(ROOT / "shopflow" / "deploy").glob("*.py")]
    read = re.compile(r"""(?:env\.\w+|environ\.get)\(\s*"([A-Z_]+)\"""")
    used = {name for path in code for name in read.findall(path.read_text())} - {"PATH", *TOLD_BY_THE_SUPERVISOR}
    explained = set(re.findall(r"`([A-Z_]+)`", (ROOT / "shopflow" / "docs" / "settings.md").read_text()))
    assert len(used) > 15
    assert used <= explained


def test_the_readme_gives_the_log_ins_of_the_demo():
    readme = (ROOT / "README.md").read_text()
    with (ROOT / "seed_data" / "people.csv").open() as file:
        people = list(csv.DictReader(file))
    assert people
    assert [one["username"] for one in people if f"| {one['username']} | {one['password']} |" not in readme] == []
