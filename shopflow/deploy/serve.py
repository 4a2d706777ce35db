"""One supervisor for one shop: a private Redis, the web server, the worker and the beat, started and stopped together.

Ctrl-C, SIGTERM, a closed terminal or the end of any one process ends them all, in reverse order of start; a supervisor
that is killed outright takes them along, too (the kernel sends each SIGTERM). Usage: python -m shopflow.deploy.serve
"""

import fcntl
import http.client
import os
import signal
import socket
import ssl
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from types import FrameType

from django.conf import settings

from shopflow.deploy import lan
from shopflow.deploy.addresses import EVERYWHERE
from shopflow.deploy.family import Family, say
from shopflow.deploy.lan import Lan
from shopflow.deploy.refusal import Refused as Refused  # others name it as ours

FIRST_PORT = 8000
PORTS_TRIED = 20
START_SECONDS = 120
LOOK_AT_NETWORK_SECONDS = 60
GONE_SECONDS = 30


class Stopped(Exception):
    """Someone asked the supervisor to stop."""


class Moved(Exception):
    """This machine has another name or address than the ones it serves under."""


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


def listen(host: str, wanted: str, *, first: int = FIRST_PORT, setting: str = "PORT") -> socket.socket:
    """A listening socket on the wanted port, or on the first free one where none was asked for.

    The supervisor holds the socket and hands it on, so that nobody can take the port between looking and serving.
    """
    if wanted and not wanted.isdecimal():
        raise Refused(f"{setting} is {wanted!r}; it must be a number, as in: make run {setting}=9000")
    ports = [int(wanted)] if wanted else range(first, first + PORTS_TRIED)
    for port in ports:
        try:
            return forget_the_gone(socket.create_server((host, port), backlog=512))
        except (OSError, OverflowError):
            continue
    tried = f"port {wanted} is" if wanted else f"ports {first} to {first + PORTS_TRIED - 1} are"
    raise Refused(f"{tried} taken or not allowed on {host}; choose another one: make run {setting}=9000")


def forget_the_gone(listener: socket.socket) -> socket.socket:
    """Let the kernel end connections of devices that left the network; accepted sockets inherit it (tcp(7))."""
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE, 1)
    for option, value in ((socket.TCP_KEEPIDLE, GONE_SECONDS // 2), (socket.TCP_KEEPINTVL, GONE_SECONDS // 6)):
        listener.setsockopt(socket.IPPROTO_TCP, option, value)
    listener.setsockopt(socket.IPPROTO_TCP, socket.TCP_KEEPCNT, 3)
    return listener


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


def web_answers(host: str, port: int, trusted: Path | None = None) -> bool:
    """Any answer but an error will do, a redirection or a refusal included: the program was read and serves.

    trusted: the authority's certificate where TLS is spoken; an answer under another one is none.
    """
    with closing(connection_to("127.0.0.1" if host == EVERYWHERE else host, port, trusted)) as client:
        try:
            client.request("GET", "/")
            status = client.getresponse().status
        except (OSError, http.client.HTTPException):
            return False
    if status >= 500:
        raise Refused(f"the web server answers with an error (status {status}); its lines above say why")
    return True


def connection_to(host: str, port: int, trusted: Path | None) -> http.client.HTTPConnection:
    if trusted is None:
        return http.client.HTTPConnection(host, port, timeout=START_SECONDS)
    context = ssl.create_default_context(cafile=str(trusted))
    return http.client.HTTPSConnection(host, port, timeout=START_SECONDS, context=context)


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
        self.serve_pages("web server", self.listener, {})
        self.wait(lambda: web_answers(self.host, self.port), "the web server does not answer")

    def serve_pages(self, name: str, listener: socket.socket, told: dict[str, str]) -> None:
        descriptor = listener.fileno()
        gunicorn = ["-m", "gunicorn", "-c", "shopflow/deploy/gunicorn_conf.py", "--bind", f"fd://{descriptor}"]
        self.family.start(name, [sys.executable, *gunicorn], hand_on=(descriptor,), told=told)

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


class LanShop(Shop):
    """A shop on its network: the same processes under TLS, and a plain-http port with the certificate to install."""

    def __init__(self, family: Family, listener: socket.socket, door: socket.socket, network: Lan) -> None:
        super().__init__(family, listener)
        self.network = network
        self.door = door
        self.address = network.address(self.port)
        self.typed_hosts = [name for name in os.environ.get("ALLOWED_HOSTS", "").split(",") if name]

    def start(self) -> None:
        self.look_at_certificate()
        names = self.network.certified_names()
        os.environ["ALLOWED_HOSTS"] = ",".join(dict.fromkeys([*self.typed_hosts, *names]))
        os.environ["CSRF_TRUSTED_ORIGINS"] = ",".join(f"https://{name}:{self.port}" for name in names)
        super().start()

    def look_at_certificate(self) -> None:
        reason = self.network.renew()
        if reason:
            say(f"Made the server's certificate ({reason})")

    def start_web_server(self) -> None:
        self.serve_pages("web server", self.listener, {"TLS_CERTIFICATE": str(self.network.server_file)})
        self.wait(
            lambda: web_answers(self.host, self.port, self.network.authority_file), "the web server does not answer"
        )
        few = {"WEB_PROCESSES": "1", "WEB_THREADS": "4", "LAN_AUTHORITY": str(self.network.authority_file)}
        door_settings = {"DJANGO_SETTINGS_MODULE": "shopflow.deploy.install_settings"}
        self.serve_pages("page that installs the certificate", self.door, few | door_settings)
        self.wait(lambda: web_answers(*self.door.getsockname()[:2]), "the page that installs does not answer")

    def welcome(self) -> None:
        if (settings.DATA_DIR / "demo-log-ins.txt").exists():
            say("Everybody on the network can try the demo's log-ins below: a real shop starts with DEMO=0")
        host, port = self.network.first_host, self.door.getsockname()[1]
        say(f"Once on each tablet, phone and computer: open http://{host}:{port} and install the certificate there.")
        say(f"Its SHA-256 fingerprint must be the same there and here:\n{self.network.fingerprint}")
        if self.network.ends_soon():
            until = self.network.authority.certificate.not_valid_after_utc
            say(f"The certificate authority ends on {until:%Y-%m-%d}. {lan.HOW_TO_START_OVER}")
        super().welcome()

    def watch(self) -> None:
        """As for every shop; once a minute the certificate is looked at, and Moved is raised where names changed."""
        next_look = time.monotonic() + LOOK_AT_NETWORK_SECONDS
        while True:
            self.family.check()
            if time.monotonic() > next_look:
                next_look = time.monotonic() + LOOK_AT_NETWORK_SECONDS
                self.refuse_to_stay_behind()
                self.look_at_certificate()
            time.sleep(0.2)

    def refuse_to_stay_behind(self) -> None:
        try:
            is_new = set(self.network.names()) - set(self.network.certified_names())
            address = self.network.address(self.port)
        except Refused:
            return  # no network for a while: what stands serves on, and devices that come back find it
        if is_new or address != self.address:
            self.address = address
            raise Moved


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


@contextmanager
def new_shop(family: Family) -> Iterator[Shop]:
    """A shop with its sockets open: on this machine alone, or with LAN=1 on the network."""
    bind, port = os.environ.get("BIND", ""), os.environ.get("PORT", "")
    if not settings.ON_OWN_NETWORK:
        with listen(bind or "127.0.0.1", port) as listener:
            yield Shop(family, listener)
        return
    network = Lan(settings.DATA_DIR / "lan", bind or EVERYWHERE, os.environ.get("SITE_URL", ""))
    network.names()  # what cannot be served is refused before anything is started
    network.address(0)
    with (
        listen(network.bind, port or network.wanted_port, first=lan.FIRST_PORT) as listener,
        listen(network.bind, os.environ.get("INSTALL_PORT", ""), setting="INSTALL_PORT") as door,
    ):
        yield LanShop(family, listener, door, network)


def serve() -> None:
    family = Family()
    with lock(settings.DATA_DIR) as lock_file:
        make_runtime_dir(settings.RUNTIME_DIR)
        with new_shop(family) as shop:
            try:
                while True:
                    lock_file.write_text(f"process {os.getpid()}, at {shop.address}")
                    shop.start()
                    shop.welcome()
                    try:
                        shop.watch()
                    except Moved:
                        say("This machine has another name or address: starting again under it")
                        family.stop()
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
