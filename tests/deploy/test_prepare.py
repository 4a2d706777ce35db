"""Installing: what is missing is named exactly, and nothing is done twice."""

import os
import subprocess
import sys

import pytest

from shopflow.deploy import prepare

NOT_THERE = prepare.SystemPackage("libnowhere7", lambda: False)
THERE = prepare.SystemPackage("coreutils", lambda: True)


@pytest.fixture
def somebody_without_rights(monkeypatch, tmp_path):
    """Not root, and neither sudo nor anything else but apt-get to be found."""
    (tmp_path / "apt-get").touch(mode=0o755)
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.setattr(os, "geteuid", lambda: 1000)


def test_without_rights_the_exact_line_to_type_is_given(somebody_without_rights):
    with pytest.raises(prepare.Refused, match=r"sudo apt-get install -y libnowhere7$"):
        prepare.install_system_packages([THERE, NOT_THERE])


def test_without_rights_nothing_is_asked_for_where_all_is_there(somebody_without_rights):
    prepare.install_system_packages([THERE])


def test_without_apt_the_missing_packages_are_named(monkeypatch, tmp_path):
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(prepare.Refused, match="are missing: libnowhere7"):
        prepare.install_system_packages([NOT_THERE])


def test_running_needs_neither_the_database_server_nor_the_browser():
    more = {package.name for package in prepare.TEST_PACKAGES} - {package.name for package in prepare.RUN_PACKAGES}
    assert more == {"postgresql", "chromium-headless-shell"}


def test_what_this_machine_lacks_of_libraries_and_commands_is_noticed():
    assert prepare.has_library("libc.so.6")
    assert not prepare.has_library("libnowhere.so.7")
    assert prepare.has_command("sh")
    assert not prepare.has_command("no-such-command")
    assert not prepare.has_font("NoSuchFont.ttf")


def test_work_is_due_until_it_was_done_for_the_same_contents(tmp_path):
    stamp, seen = tmp_path / "stamp", []
    for wanted in ("one", "one", "two"):
        with prepare.unless_stamped(stamp, wanted) as due:
            seen.append(due)
    assert seen == [True, False, True]


def test_a_stamp_set_here_says_nothing_about_a_copy_of_the_folder_made_by_links(tmp_path):
    stamp, copy = tmp_path / "stamp", tmp_path / "copy"
    stamp.write_text("one")
    copy.hardlink_to(stamp)
    with prepare.unless_stamped(stamp, "two"):
        pass
    assert (stamp.read_text(), copy.read_text()) == ("two", "one")


def test_work_that_failed_is_due_again(tmp_path):
    stamp = tmp_path / "stamp"
    with pytest.raises(prepare.Refused), prepare.unless_stamped(stamp, "one"):
        raise prepare.Refused("the network is down")
    with prepare.unless_stamped(stamp, "one") as due:
        assert due


def test_the_digest_changes_with_contents_and_with_names(monkeypatch, tmp_path):
    monkeypatch.setattr(prepare, "ROOT", tmp_path)
    (tmp_path / "a").write_text("1")
    first = prepare.digest(tmp_path / "a")
    (tmp_path / "a").write_text("2")
    second = prepare.digest(tmp_path / "a")
    (tmp_path / "b").write_text("2")
    assert len({first, second, prepare.digest(tmp_path / "b")}) == 3


def test_a_failing_command_shows_its_own_words_and_says_what_could_not_be_done(capsys):
    with pytest.raises(prepare.Refused, match=r"the thing could not be made .* status 3"):
        prepare.run([sys.executable, "-c", "print('disk full'); raise SystemExit(3)"], "the thing could not be made")
    assert "disk full" in capsys.readouterr().err


@pytest.fixture
def borrower(monkeypatch, tmp_path):
    """A checkout whose .venv and node_modules are links to another one's, which hold one file each and do not start."""
    for name in (".venv", "node_modules"):
        (tmp_path / "lender" / name).mkdir(parents=True)
        (tmp_path / "lender" / name / "theirs").touch()
    folder = tmp_path / "borrower"
    folder.mkdir()
    for name in (".venv", "node_modules"):
        (folder / name).symlink_to(tmp_path / "lender" / name)
    for name in ("requirements.txt", "package.json", "package-lock.json"):
        (folder / name).write_text("more than they have")
    monkeypatch.setattr(prepare, "ROOT", folder)
    monkeypatch.setattr(prepare, "VENV", folder / ".venv")
    return folder


@pytest.mark.parametrize(
    ("name", "install"),
    [
        (".venv", prepare.make_venv),
        (".venv", lambda: prepare.install_python_packages("run")),
        ("node_modules", prepare.install_node_packages),
    ],
)
def test_what_another_checkout_lends_is_neither_emptied_nor_filled(borrower, name, install):
    with pytest.raises(prepare.Refused, match="is a link to .* Remove the link"):
        install()
    assert [path.name for path in (borrower / name).iterdir()] == ["theirs"]


def test_a_lent_environment_that_starts_is_used_as_it_is(borrower):
    (borrower / ".venv" / "bin").mkdir()
    (borrower / ".venv" / "bin" / "python").symlink_to(sys.executable)
    (borrower / ".venv" / "made-for").write_text("the lender's folder")
    prepare.make_venv()
    assert (borrower / ".venv" / "theirs").exists()


def test_certificates_and_proxies_of_the_shell_reach_the_installers_untouched(monkeypatch):
    given = {
        "PIP_CERT": "/a.crt",
        "SSL_CERT_FILE": "/b.crt",
        "NODE_EXTRA_CA_CERTS": "/c.crt",
        "https_proxy": "http://p",
    }
    for name, value in given.items():
        monkeypatch.setenv(name, value)
    assert given.items() <= prepare.environment().items()


def test_make_works_without_path_and_home():
    if not (prepare.VENV / "installed-test").exists():
        pytest.skip("this .venv was not made by make: it would install now")
    command = ["/usr/bin/make", "ready-to-test"]
    done = subprocess.run(command, cwd=prepare.ROOT, env={}, capture_output=True, text=True)
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")


def test_help_lists_both_commands():
    done = subprocess.run(["make", "help"], cwd=prepare.ROOT, env={}, capture_output=True, text=True)
    targets = [line.split()[0] for line in done.stdout.splitlines()]
    assert {"run", "test"} <= set(targets)
