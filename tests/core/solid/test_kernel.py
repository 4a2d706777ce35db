"""The geometry process is killed, crashed, starved and lied to: each time a plain sentence, and the next read works."""

import multiprocessing
import os
import shutil
import signal
import subprocess
import sys
import textwrap
import time
from pathlib import Path

import pytest

from shopflow.core import solid
from shopflow.core.errors import Unreadable
from shopflow.core.solid.kernel import kernel
from shopflow.core.solid.request import STEPS

ROOT = Path(__file__).resolve().parents[3]
# The wall is far: on a busy machine two seconds of processor time take many more.
QUICK = solid.Limits(wall_s=90, cpu_s=2, output_bytes=8 << 20, memory_bytes=1 << 30)


@pytest.fixture(scope="module")
def faulty():
    kernel = solid.Kernel(work="tests.core.solid.faulty_work")
    yield kernel
    kernel.close()


@pytest.fixture
def file_named(plain_part, tmp_path):
    return lambda fault: Path(shutil.copy(plain_part, tmp_path / f"{fault}.step"))


def gone(pid):
    """Whether a process has ended, within a second or two."""
    for _ in range(200):
        try:
            state = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]
        except FileNotFoundError:
            return True
        if state == "Z":
            return True
        time.sleep(0.02)
    return False


@pytest.mark.parametrize(
    ("fault", "said"),
    [
        ("segfault", "crashed while reading (signal 11)"),
        ("abort", "crashed while reading (signal 6)"),
        ("spin", "more than 2 s of processor time"),
        ("hoard", "more than 1 GB of memory"),
        ("garbage", "makes no sense"),
        ("flood", "it stopped with an error"),
        ("raise", "it stopped with an error"),
        ("leave", "makes no sense"),
    ],
)
def test_a_fault_in_both_attempts_is_refused_in_plain_words_and_the_next_read_works(
    faulty, file_named, plain_part, fault, said
):
    with pytest.raises(Unreadable) as caught:
        solid.read(file_named(f"{fault}-always"), using=faulty, limits=QUICK)
    assert said in caught.value.what and "two attempts" in caught.value.what and caught.value.mend
    assert solid.read(plain_part, using=faulty).bbox_mm == (60.0, 40.0, 20.0)


def test_a_hanging_read_is_killed_with_the_helpers_it_started(faulty, file_named, plain_part):
    with pytest.raises(Unreadable, match="took longer than 1 s"):
        solid.read(file_named("hang-always"), using=faulty, limits=solid.Limits(wall_s=1))
    children = Path(f"/proc/{faulty.pid}/task/{faulty.pid}/children").read_text().split()
    assert children == []
    assert not [pid for pid in _processes() if _is_orphan(pid, faulty.pid)]


def _processes():
    return [int(entry.name) for entry in Path("/proc").iterdir() if entry.name.isdigit()]


def _is_orphan(pid, warm):
    """Whether a process is left of a read for this client: the warm parent's own program, and not that parent."""
    try:
        command = Path(f"/proc/{pid}/cmdline").read_bytes().split(b"\0")
    except OSError:
        return False
    return b"tests.core.solid.faulty_work" in command and str(os.getpid()).encode() in command and pid != warm


@pytest.mark.parametrize("fault", ["segfault", "raise", "garbage"])
def test_a_fault_with_annotations_falls_back_to_geometry_and_says_so(faulty, file_named, fault):
    reading = solid.read(file_named(f"{fault}-first"), using=faulty)
    assert len(reading.holes) == 1
    assert "without them" in reading.warnings[0]


def test_the_warm_parent_has_one_thread(faulty, plain_part):
    solid.read(plain_part, using=faulty)
    assert faulty.threads_at_start == 1
    assert len(list(Path(f"/proc/{faulty.pid}/task").iterdir())) == 1


def test_a_killed_warm_parent_is_started_again(faulty, plain_part):
    solid.read(plain_part, using=faulty)
    before = faulty.pid
    os.kill(before, signal.SIGKILL)
    assert gone(before)
    assert len(solid.read(plain_part, using=faulty).holes) == 1
    assert faulty.pid != before


def test_a_warm_parent_that_cannot_start_says_why(plain_part):
    broken = solid.Kernel(work="tests.core.solid.no_such_work")
    with pytest.raises(solid.KernelFailed, match="no_such_work"):
        solid.read(plain_part, using=broken)


def test_closing_ends_the_warm_parent(plain_part):
    kernel = solid.Kernel()
    solid.read(plain_part, using=kernel)
    pid = kernel.pid
    kernel.close()
    assert gone(pid)


def test_the_warm_parent_dies_with_a_client_that_is_killed(plain_part):
    program = textwrap.dedent(f"""
        import time, pathlib
        from shopflow.core import solid
        solid.read(pathlib.Path({str(plain_part)!r}))
        print(solid.kernel().pid, flush=True)
        time.sleep(600)
    """)
    client = subprocess.Popen([sys.executable, "-c", program], stdout=subprocess.PIPE, cwd=ROOT)
    with client:
        warm = int(client.stdout.readline())
        client.kill()
    assert gone(warm)


def _pid_after_a_read(path, queue):
    solid.read(path)
    queue.put(kernel().pid)


@pytest.mark.filterwarnings("ignore:.*multi-threaded.*fork:DeprecationWarning")
def test_a_fork_of_the_caller_gets_a_warm_parent_of_its_own(plain_part):
    solid.read(plain_part)
    ours = kernel().pid
    fork = multiprocessing.get_context("fork")
    queue = fork.Queue()
    child = fork.Process(target=_pid_after_a_read, args=(plain_part, queue))
    child.start()
    theirs = queue.get(timeout=60)
    child.join()
    assert theirs != ours
    assert len(solid.read(plain_part).holes) == 1 and kernel().pid == ours


def test_progress_names_the_steps_in_order(plain_part):
    steps = []
    solid.read(plain_part, progress=steps.append)
    assert steps == [step for step in STEPS if step in steps]
    assert steps[0] == "opening" and steps[-1] == "writing"


def test_two_threads_share_one_warm_parent(plain_part):
    from concurrent.futures import ThreadPoolExecutor

    with ThreadPoolExecutor(2) as pool:
        readings = list(pool.map(lambda _: solid.read(plain_part), range(2)))
    assert readings[0] == readings[1]


def test_importing_the_package_loads_no_geometry_library():
    program = "import sys; import shopflow.core.solid; sys.exit(any(name.startswith('OCP') for name in sys.modules))"
    assert subprocess.run([sys.executable, "-c", program], cwd=ROOT).returncode == 0
