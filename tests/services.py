"""Private servers for tests, each in a folder of its own that goes with the process that asked for it.

`python -m tests.services postgres COMMAND …` runs a command with DATABASE_URL naming a fresh PostgreSQL (and one of its
own for each of two processes of pytest-xdist, which tests/settings.py picks).
"""

import atexit
import os
import pwd
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from shopflow.deploy.serve import redis_answers, redis_command

ROOT = Path(__file__).resolve().parents[1]
SERVER_SETTINGS = {
    "listen_addresses": "",
    "fsync": "off",  # the data ends with the tests
    "max_connections": "60",
    "shared_buffers": "64MB",
}


def private_postgres() -> str:
    """Start a PostgreSQL that only this run knows, on a socket; its DATABASE_URL. It stops when this process ends.

    PostgreSQL refuses to run as root: then it runs as another user (postgres, else nobody) through setpriv.
    """
    folder = Path(tempfile.mkdtemp(prefix="sf-pg-"))  # short: the path of a socket ends at 107 bytes
    drop = _drop_root(folder)
    binaries = _postgres_binaries()
    data = folder / "data"
    _run(*drop, binaries / "initdb", "-D", data, "-U", "tests", "-A", "trust", "-E", "UTF8", "--locale=C", "--no-sync")
    with (data / "postgresql.conf").open("a") as handle:
        handle.writelines(f"{name} = '{value}'\n" for name, value in SERVER_SETTINGS.items())
        handle.write(f"unix_socket_directories = '{folder}'\n")
    control = [*drop, binaries / "pg_ctl", "-D", data, "-w"]
    _run(*control, "-l", folder / "log", "start")
    starter = os.getpid()

    @atexit.register
    def stop() -> None:
        if os.getpid() == starter:  # not in a fork of it
            _run(*control, "-m", "immediate", "stop")
            shutil.rmtree(folder, ignore_errors=True)

    return f"postgres://tests@/{folder}/postgres"  # two slashes: django-environ's form for the folder of a socket


def private_redis() -> str:
    """Start a Redis that only this run knows, on a socket; its REDIS_URL. It stops when this process ends."""
    folder = Path(tempfile.mkdtemp(prefix="sf-redis-"))
    path = folder / "redis.sock"
    # setpriv: it ends with us even when we are killed, as a test may well be.
    server = subprocess.Popen(["setpriv", "--pdeathsig", "TERM", "--", *redis_command(path)], stdin=subprocess.DEVNULL)
    starter = os.getpid()

    @atexit.register
    def stop() -> None:
        if os.getpid() == starter:
            server.terminate()
            server.wait()
            shutil.rmtree(folder, ignore_errors=True)

    while not redis_answers(path):
        if server.poll() is not None:
            raise RuntimeError(f"the private Redis ended at once, with status {server.returncode}")
        time.sleep(0.02)
    return f"redis+socket://{path}"


def _postgres_binaries() -> Path:
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin"), key=lambda path: float(path.parent.name))
    if not found:
        raise RuntimeError("no PostgreSQL server is installed: apt-get install -y postgresql")
    return found[-1]


def _drop_root(folder: Path) -> list[str]:
    """The words before a command that make it run as somebody who is not root and owns the folder."""
    if os.getuid() != 0:
        return []
    names = {entry.pw_name: entry for entry in pwd.getpwall()}
    user = names.get("postgres") or names["nobody"]
    os.chown(folder, user.pw_uid, user.pw_gid)
    return ["setpriv", f"--reuid={user.pw_uid}", f"--regid={user.pw_gid}", "--clear-groups"]


def _run(*command: object) -> None:
    done = subprocess.run(
        [str(part) for part in command], stdin=subprocess.DEVNULL, capture_output=True, text=True, cwd="/", check=False
    )
    if done.returncode:
        raise RuntimeError(f"{command}\n{done.stdout}{done.stderr}")


def main(service: str, *command: str) -> int:
    if service != "postgres" or not command:
        sys.exit(__doc__)
    signal.signal(
        signal.SIGTERM, lambda *_: sys.exit("ended from outside")
    )  # by way of atexit, so that no server stays
    # A server for each process of pytest-xdist: a transaction holds back what its whole server counts as settled.
    urls = {f"DATABASE_URL_{worker}": private_postgres() for worker in ("gw0", "gw1")}
    # Importing shopflow named the settings of a served shop, which are not those of its tests.
    environment = (
        os.environ | urls | {"DATABASE_URL": urls["DATABASE_URL_gw0"], "DJANGO_SETTINGS_MODULE": "tests.settings"}
    )
    return subprocess.run(command, env=environment, check=False).returncode


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
