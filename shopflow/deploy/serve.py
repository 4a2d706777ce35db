"""One supervisor for one shop: a private Redis, the web server, the worker and the beat, started and stopped together.

Ctrl-C, SIGTERM, a closed terminal or the end of any one process ends them all, in reverse order of start; a supervisor
that is killed outright takes them along, too (the kernel sends each SIGTERM). Usage: python -m shopflow.deploy.serve
"""

import ctypes
import fcntl
import http.client
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from types import FrameType

from django.conf import settings

FIRST_PORT = 8000
PORTS_TRIED = 20
START_SECONDS = 120
STOP_SECONDS = 10
PR_SET_CHILD_SUBREAPER = 36  # prctl(2)


class Refused(Exception):
    """The shop cannot be started; the text says why and what to do."""


class Stopped(Exception):
    """Someone asked the supervisor to stop."""


def say(text: str) -> None:
    sys.stdout.write(f"{text}\n")
    sys.stdout.flush()


@contextmanager
def lock(data_dir: Path) -> Iterator[Path]:
    """Hold the one lock of a data folder; yield the file in which its holder writes where it answers."""
    data_dir.mkdir(parents=True, exist_ok=True)
    path = data_dir / "run.lock"
    with open(path, "a+") as file:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise Refused(
                f"the shop in {data_dir} already runs: {path.read_text() or 'it is just starting'}. "
                "Use that one, stop it first, or name another data folder: make run SHOPFLOW_DATA=/some/folder"
            ) from None
        file.truncate(0)
        yield path


def make_runtime_dir(path: Path) -> None:
    """The folder of the sockets: ours alone, since whoever can write to it can feed tasks to the worker."""
    path.mkdir(mode=0o700, parents=True, exist_ok=True)
    owner = path.stat()
    if owner.st_uid != os.getuid() or owner.st_mode & 0o077:
        raise Refused(f"{path} belongs to or is open to other users; set SHOPFLOW_RUNTIME to a folder of your own")


def listen(host: str, wanted: str) -> socket.socket:
    """A listening socket on the wanted port, or on the first free one where none was asked for.

    The supervisor holds the socket and hands it on, so that nobody can take the port between looking and serving.
    """
    if wanted and not wanted.isdecimal():
        raise Refused(f"PORT is {wanted!r}; it must be a number, as in: make run PORT=9000")
    ports = [int(wanted)] if wanted else range(FIRST_PORT, FIRST_PORT + PORTS_TRIED)
    for port in ports:
        try:
            return socket.create_server((host, port), backlog=512)
        except OSError:
            continue
    tried = f"port {wanted} is" if wanted else f"ports {FIRST_PORT} to {FIRST_PORT + PORTS_TRIED - 1} are"
    raise Refused(f"{tried} taken or not allowed on {host}; choose another one: make run PORT=9000")


@dataclass
class Child:
    """One running process: its name for people and its group, which ends with it."""

    name: str
    process: subprocess.Popen[bytes]


class Family:
    """The processes of one shop, in the order in which they were started."""

    def __init__(self) -> None:
        self.children: dict[int, Child] = {}
        # Orphans of a child (a pool's process, a geometry process) come to us instead of init, and end with us.
        ctypes.CDLL(None, use_errno=True).prctl(PR_SET_CHILD_SUBREAPER, 1, 0, 0, 0)

    def start(self, name: str, command: list[str], *, hand_on: tuple[int, ...] = ()) -> None:
        say(f"Starting {name}")
        dies_with_us = ["setpriv", "--pdeathsig", "TERM", "--"]
        process = subprocess.Popen(
            [*dies_with_us, *command],
            cwd=settings.BASE_DIR,
            stdin=subprocess.DEVNULL,
            pass_fds=hand_on,
            start_new_session=True,  # Ctrl-C reaches the supervisor alone, which stops them in order
        )
        self.children[process.pid] = Child(name, process)

    def reap(self) -> Child | None:
        """Collect one process that ended; the child it was, or None when none ended or an orphan did."""
        try:
            pid, status = os.waitpid(-1, os.WNOHANG)
        except ChildProcessError:
            return None
        child = self.children.pop(pid, None)
        if child is not None:
            child.process.returncode = os.waitstatus_to_exitcode(status)
            signal_group(pid, signal.SIGKILL)
        return child

    def check(self) -> None:
        child = self.reap()
        if child is not None:
            raise Refused(f"{child.name} ended by itself (status {child.process.returncode}); all others are stopped")

    def stop(self) -> None:
        """Stop in reverse order, the worker before the Redis it speaks to; then whatever is left of them."""
        for pid, child in reversed(list(self.children.items())):
            say(f"Stopping {child.name}")
            os.kill(pid, signal.SIGTERM)
            self._wait_for(pid)
        for pid in orphans():
            os.kill(pid, signal.SIGKILL)

    def _wait_for(self, pid: int) -> None:
        deadline = time.monotonic() + STOP_SECONDS
        while pid in self.children:
            if time.monotonic() > deadline:
                signal_group(pid, signal.SIGKILL)
            self.reap()
            time.sleep(0.02)


def signal_group(group: int, number: int) -> None:
    with suppress(ProcessLookupError):
        os.killpg(group, number)


def orphans() -> list[int]:
    """Processes that came to us when their parent ended."""
    try:
        return [int(pid) for pid in Path(f"/proc/self/task/{os.getpid()}/children").read_text().split()]
    except FileNotFoundError:
        return []  # a kernel built without CONFIG_PROC_CHILDREN


def redis_command(path: Path) -> list[str]:
    """A Redis that keeps nothing: what matters is in rows, and a broker that forgets is one that cannot lie."""
    return [
        "redis-server", "--port", "0", "--unixsocket", str(path), "--unixsocketperm", "700", "--save", "",
        "--appendonly", "no", "--daemonize", "no", "--maxmemory", "256mb", "--dir", str(path.parent),
        "--logfile", str(path.with_suffix(".log")),
    ]  # fmt: skip


def redis_answers(path: Path) -> bool:
    with closing(socket.socket(socket.AF_UNIX)) as client:
        try:
            client.connect(str(path))
            client.sendall(b"PING\r\n")
            return client.recv(16).startswith(b"+PONG")
        except OSError:
            return False


def web_answers(host: str, port: int) -> bool:
    """Any answer but an error will do, a redirection or a refusal included: the program was read and serves."""
    with closing(http.client.HTTPConnection(host, port, timeout=START_SECONDS)) as client:
        try:
            client.request("GET", "/")
            status = client.getresponse().status
        except (OSError, http.client.HTTPException):
            return False
    if status >= 500:
        raise Refused(f"the web server answers with an error (status {status}); its lines above say why")
    return True


def celery(command: str, *arguments: str) -> list[str]:
    """A Celery command that logs warnings only, but for its own about root, which we say in our words."""
    python = [sys.executable, "-W", "ignore::UserWarning:celery.platforms"]
    return [*python, "-m", "celery", "--quiet", "-A", "shopflow", command, "--loglevel", "WARNING", *arguments]


def lay_out() -> None:
    """In a process of its own, so that the supervisor stays small and its one thread free for signals."""
    if subprocess.run([sys.executable, "-m", "shopflow.deploy.lay_out"], cwd=settings.BASE_DIR).returncode:
        raise Refused("the data folder could not be brought up to date, for the reason above")


class Shop:
    """One shop being served: its processes, its socket and the address that people open."""

    def __init__(self, family: Family, listener: socket.socket) -> None:
        self.family = family
        self.listener = listener
        self.host, self.port = listener.getsockname()[:2]
        self.address = os.environ.get("SITE_URL") or f"http://localhost:{self.port}"

    def start(self) -> None:
        os.environ["SITE_URL"] = self.address  # the port may have been chosen by us
        self.start_redis()
        lay_out()
        self.start_web_server()  # alone, since people wait for it; the worker's first seconds nobody sees
        concurrency = os.environ.get("WORKER_PROCESSES", "2")
        self.family.start(
            "worker", celery("worker", "--concurrency", concurrency, "--without-gossip", "--without-mingle")
        )
        schedule = str(settings.DATA_DIR / "beat-schedule")
        self.family.start("beat", celery("beat", "--schedule", schedule, "--pidfile="))

    def start_redis(self) -> None:
        path = settings.RUNTIME_DIR / "redis.sock"
        if not settings.REDIS_URL.endswith(str(path)):
            say(f"Using the Redis at {settings.REDIS_URL.rpartition('@')[2]}")
            return
        path.unlink(missing_ok=True)
        self.family.start("Redis", redis_command(path))
        self.wait(lambda: redis_answers(path), "Redis does not answer")

    def start_web_server(self) -> None:
        descriptor = self.listener.fileno()
        gunicorn = ["-m", "gunicorn", "-c", "shopflow/deploy/gunicorn_conf.py", "--bind", f"fd://{descriptor}"]
        self.family.start("web server", [sys.executable, *gunicorn], hand_on=(descriptor,))
        self.wait(lambda: web_answers(self.host, self.port), "the web server does not answer")

    def wait(self, is_so: Callable[[], bool], or_else: str) -> None:
        deadline = time.monotonic() + START_SECONDS
        while not is_so():
            self.family.check()
            if time.monotonic() > deadline:
                raise Refused(f"{or_else} within {START_SECONDS} seconds")
            time.sleep(0.05)

    def welcome(self) -> None:
        if os.geteuid() == 0:
            say("Running as root: good for a trial; a shop's own server should have a user of its own")
        log_ins = settings.DATA_DIR / "demo-log-ins.txt"
        if log_ins.exists():
            say(log_ins.read_text().rstrip())
        say(f"shopflow is at {self.address} (Ctrl-C stops it)")

    def watch(self) -> None:
        while True:
            self.family.check()
            time.sleep(0.2)


def stop_on_signals() -> None:
    def stop(number: int, frame: FrameType | None) -> None:
        raise Stopped

    for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
        if number != signal.SIGHUP or signal.getsignal(number) is not signal.SIG_IGN:  # nohup wants it ignored
            signal.signal(number, stop)


def let_nothing_interrupt() -> None:
    for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
        signal.signal(number, signal.SIG_IGN)


def only_lay_out() -> None:
    with lock(settings.DATA_DIR) as lock_file:
        lock_file.write_text(f"process {os.getpid()}, which brings it up to date")
        lay_out()
    say(f"The shop in {settings.DATA_DIR} is up to date")


def serve() -> None:
    family = Family()
    with lock(settings.DATA_DIR) as lock_file:
        make_runtime_dir(settings.RUNTIME_DIR)
        with listen(os.environ.get("BIND", "127.0.0.1"), os.environ.get("PORT", "")) as listener:
            shop = Shop(family, listener)
            lock_file.write_text(f"process {os.getpid()}, at {shop.address}")
            try:
                shop.start()
                shop.welcome()
                shop.watch()
            finally:
                let_nothing_interrupt()
                family.stop()


def main(arguments: list[str]) -> int:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shopflow.settings")
    stop_on_signals()
    try:
        only_lay_out() if arguments == ["--lay-out-only"] else serve()
    except Stopped:
        return 0
    except Refused as refusal:
        sys.stderr.write(f"Stopped: {refusal}\n")
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
