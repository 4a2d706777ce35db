"""SQLite on a network file system is refused at start."""

import pytest
from django.core.checks.registry import registry

from shopflow.deploy import checks

MOUNTS = """\
22 1 8:1 / / rw,relatime shared:1 - ext4 /dev/sda1 rw
40 22 0:44 / /srv rw shared:7 - nfs4 server:/srv rw,vers=4.2
41 40 8:2 / /srv/local\\040disk rw - xfs /dev/sdb1 rw
42 22 0:45 / /srvother rw - tmpfs tmpfs rw
"""


@pytest.mark.parametrize(
    ("path", "kind"),
    [
        ("/home/shop/shop.sqlite3", "ext4"),
        ("/srv/shop/shop.sqlite3", "nfs4"),
        ("/srv/local disk/shop.sqlite3", "xfs"),
        ("/srvother/shop.sqlite3", "tmpfs"),
    ],
)
def test_the_file_system_is_that_of_the_nearest_mount_point_above(path, kind):
    assert checks.file_system(checks.Path(path), MOUNTS) == kind


def complaints(engine, name):
    return checks.complaints({"ENGINE": f"django.db.backends.{engine}", "NAME": name}, MOUNTS)


def test_sqlite_on_a_network_file_system_is_an_error_with_a_way_out():
    [error] = complaints("sqlite3", "/srv/shop.sqlite3")
    assert "nfs4" in error.msg
    assert "SHOPFLOW_DATA" in error.hint


def test_sqlite_on_a_disk_of_this_machine_is_fine():
    assert complaints("sqlite3", "/var/shop.sqlite3") == []


def test_a_database_server_may_lie_anywhere():
    assert complaints("postgresql", "/srv/shop") == []


def test_the_check_runs_with_all_others():
    assert checks.sqlite_lies_on_this_machine in registry.registered_checks
