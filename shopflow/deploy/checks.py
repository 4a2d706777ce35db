"""System checks on where the shop's data lies: combinations that would lose data are refused at start."""

from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Error, Tags, register

NETWORK_FILE_SYSTEMS = {
    "afs", "ceph", "cifs", "fuse.glusterfs", "fuse.rclone", "fuse.s3fs", "fuse.sshfs", "glusterfs", "lustre", "ncpfs",
    "nfs", "nfs4", "ocfs2", "smb3", "smbfs", "vboxsf",
}  # fmt: skip
MOUNTS = Path("/proc/self/mountinfo")


def file_system(path: Path, mountinfo: str) -> str:
    """The type of the file system that holds `path`, by the longest mount point above it; "" where none is known.

    mountinfo: the text of /proc/self/mountinfo (proc(5)): the fifth field is the mount point, with octal escapes, and
    the first field after the lone hyphen is the type.
    """
    found, longest = "", -1
    for line in mountinfo.splitlines():
        before, _, after = line.partition(" - ")
        mount_point = Path(before.split()[4].encode().decode("unicode_escape"))
        if path.is_relative_to(mount_point) and len(mount_point.parts) >= longest:
            found, longest = after.split()[0], len(mount_point.parts)
    return found


def database_file(database: dict[str, Any]) -> Path | None:
    """The SQLite file in use; None for another database and for one kept in memory."""
    name = str(database["NAME"])
    if not database["ENGINE"].endswith("sqlite3") or "memory" in name:
        return None
    return Path(name).resolve()


def complaints(database: dict[str, Any], mountinfo: str) -> list[CheckMessage]:
    """SQLite's write-ahead log needs memory shared by all processes and true locks: no network file system has both.

    Source: sqlite.org, "Write-Ahead Logging", section 1: all processes using a database must be on the same host.
    """
    path = database_file(database)
    kind = file_system(path, mountinfo) if path else ""
    if kind not in NETWORK_FILE_SYSTEMS:
        return []
    return [
        Error(
            f"The database {path} lies on a network file system ({kind}), where SQLite can lose what was written.",
            hint="Set SHOPFLOW_DATA to a folder on a disk of this machine, or DATABASE_URL to a PostgreSQL server.",
            id="shopflow.E001",
        )
    ]


@register(Tags.compatibility)
def sqlite_lies_on_this_machine(**given: object) -> list[CheckMessage]:
    return complaints(settings.DATABASES["default"], MOUNTS.read_text()) if MOUNTS.exists() else []
