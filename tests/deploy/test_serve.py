"""The supervisor over a whole shop, started as seldom as can be; test_family.py tries the rest with small processes."""

import os
import signal
import socket
import urllib.request
from pathlib import Path

import pytest

from shopflow.deploy import serve
from tests.live_shop import LiveShop, is_running

pytestmark = pytest.mark.xdist_group("supervisor")  # one whole shop at a time is enough for two cores


@pytest.fixture(scope="module")
def shop(laid_out):
    shop = LiveShop(DEMO="0").over_a_copy_of(laid_out)
    yield shop
    shop.remove()


@pytest.fixture
def running(shop):
    """The shop, started anew where the test before ended it."""
    if shop.process is None or shop.process.poll() is not None:
        shop.start()
    return shop


def process_of(shop, word):
    """The id of the supervisor's own child that has this word in its command."""
    commands = {pid: Path(f"/proc/{pid}/cmdline").read_text() for pid in sorted(shop.processes())}
    return next(pid for pid, command in commands.items() if word in command and pid != shop.process.pid)


def test_an_upgrade_makes_the_tables_and_starts_nothing(laid_out):
    assert "Starting" not in laid_out.output()
    assert "No planned migration operations" in laid_out.manage("migrate", "--plan")


# The order below spares starts: each test that ends the shop comes after those that only look at it.


def test_a_second_start_over_one_data_folder_is_refused_and_says_where_the_first_answers(running):
    second = LiveShop(SHOPFLOW_DATA=running.environment["SHOPFLOW_DATA"])
    second.launch()
    assert second.process.wait(60) == 1
    assert f"process {running.process.pid}, at {running.address}" in second.output()
    second.remove()


def test_an_upgrade_beside_the_running_shop_is_refused(running):
    upgrade = LiveShop(SHOPFLOW_DATA=running.environment["SHOPFLOW_DATA"])
    upgrade.launch("--lay-out-only")
    assert upgrade.process.wait(60) == 1
    assert f"process {running.process.pid}" in upgrade.output()
    upgrade.remove()


def test_two_shops_over_two_data_folders_run_beside_each_other_on_two_ports(running, other):
    assert other.address != running.address
    for address in (running.address, other.address):
        with urllib.request.urlopen(address) as answer:
            assert answer.status == 200


@pytest.fixture(scope="module")
def other(laid_out):
    other = LiveShop(DEMO="0").over_a_copy_of(laid_out)
    try:
        other.start()
        yield other
    finally:
        other.remove()


def test_a_killed_supervisor_takes_its_processes_along(other):
    everyone = other.processes()
    other.process.kill()
    other.process.wait()
    other.wait_until(lambda: not any(is_running(pid) for pid in everyone))


def test_the_end_of_one_process_ends_all_others_and_names_it(running):
    everyone = running.processes()
    os.kill(process_of(running, "worker"), signal.SIGKILL)
    assert running.process.wait(60) == 1
    assert "worker ended by itself" in running.output()
    assert [pid for pid in everyone if is_running(pid)] == []


def test_a_shop_starts_again_over_what_it_left(shop):
    if shop.process is None:
        shop.start()
    shop.stop()
    shop.start()
    assert "Collecting static files" not in shop.output()


def test_a_signal_stops_every_process_and_counts_as_success(running):
    everyone = running.processes()
    assert len(everyone) >= 7  # supervisor, Redis, web server and its two, worker, beat at the least
    assert running.stop() == 0
    assert [pid for pid in everyone if is_running(pid)] == []


@pytest.fixture
def taken():
    with socket.create_server(("127.0.0.1", 0)) as server:
        yield server.getsockname()[1]


def test_a_taken_port_that_was_asked_for_is_refused_with_a_way_out(taken):
    with pytest.raises(serve.Refused, match=f"port {taken} is taken .* make run PORT="):
        serve.listen("127.0.0.1", str(taken))


def test_without_a_wish_the_first_free_port_is_taken():
    with serve.listen("127.0.0.1", "") as first, serve.listen("127.0.0.1", "") as second:
        assert first.getsockname()[1] < second.getsockname()[1]


def test_a_port_that_is_no_number_is_refused_in_words():
    with pytest.raises(serve.Refused, match="PORT is 'http'"):
        serve.listen("127.0.0.1", "http")


def test_a_folder_of_sockets_that_others_may_open_is_refused(tmp_path):
    tmp_path.chmod(0o755)
    with pytest.raises(serve.Refused, match="SHOPFLOW_RUNTIME"):
        serve.make_runtime_dir(tmp_path)


def test_the_lock_of_a_data_folder_is_free_again_after_use(tmp_path):
    for _ in range(2):
        with serve.lock(tmp_path) as path:
            assert path.parent == tmp_path
