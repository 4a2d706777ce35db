"""Keeping what the floor set for a lot. A report as any other: one transaction, and a key sent twice counts once."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import IO

from django.db import transaction
from django.utils.translation import gettext as _

from shopflow.core.errors import Unreadable
from shopflow.core.measure import Measure
from shopflow.floor import reported
from shopflow.floor.actions import NotNow
from shopflow.floor.models import AsRun, AsRunTool, Lot
from shopflow.jobs.models import Step
from shopflow.jobs.uploads import HEAD_BYTES, sniff
from shopflow.people.access import Act, require
from shopflow.people.models import User
from shopflow.records import files, ledger
from shopflow.records.canonical import digest

MOST_PHOTO_BYTES = 20 * 1024 * 1024


@dataclass(frozen=True)
class ToolSet:
    """One tool as the floor measured and corrected it; None where nothing was typed."""

    number: int
    length: Measure | None = None
    length_wear: Measure | None = None
    diameter_wear: Measure | None = None

    @property
    def is_empty(self) -> bool:
        return not (self.length or self.length_wear or self.diameter_wear)


@dataclass(frozen=True)
class WasSet:
    """What a person typed about a setup: the zero in machine coordinates, overrides in percent, tools, a note."""

    offset: str = ""
    offset_x: Measure | None = None
    offset_y: Measure | None = None
    offset_z: Measure | None = None
    rapid_override: int | None = None
    feed_override: int | None = None
    spindle_override: int | None = None
    note: str = ""
    tools: Sequence[ToolSet] = ()

    @property
    def is_empty(self) -> bool:
        values = [getattr(self, field.name) for field in fields(self) if field.name not in ("offset", "tools")]
        return all(value in (None, "") for value in values) and all(tool.is_empty for tool in self.tools)


@transaction.atomic
def note(lot: Lot, step: Step, said: WasSet, *, by: User, key: str | None = None) -> AsRun:
    """Note what was set for a lot at an op. Raises NotNow where nothing was typed or the op has no setup."""
    require(by, Act.RUN)
    if said.is_empty:
        raise NotNow(_("Nothing was typed. Note at least one offset, override or tool."))
    return _kept(lot, step, said, by=by, key=key, sha256="")


@transaction.atomic
def note_photo(
    lot: Lot, step: Step, picture: bytes | IO[bytes], *, by: User, text: str = "", key: str | None = None
) -> AsRun:
    """Keep a photo of the setup. Raises Unreadable for what is no PNG or JPEG; nothing is kept then."""
    require(by, Act.RUN)
    stream = io.BytesIO(picture) if isinstance(picture, bytes) else picture
    media_type = sniff(stream.read(HEAD_BYTES))
    stream.seek(0)
    if media_type not in ("image/png", "image/jpeg"):
        raise Unreadable(_("This is no photo."), mend=_("Take a picture as PNG or JPEG."))
    stored = files.store(stream, media_type=media_type, limit=MOST_PHOTO_BYTES)
    return _kept(lot, step, WasSet(note=text), by=by, key=key, sha256=stored.sha256, photo_id=stored.pk)


def _kept(
    lot: Lot, step: Step, said: WasSet, *, by: User, key: str | None, sha256: str, photo_id: int | None = None
) -> AsRun:
    """The row with its ledger row, which keeps a hash of what was typed and none of it."""
    if step.setup is None or step.job_id != lot.job_id:
        raise NotNow(_("Op %(op)s has no setup on a machine: there is nothing to note here.") % {"op": step.op_number})
    row = ledger.append(
        "as_run_noted", chain=lot.job.chain, subject=("lot", lot.pk), by=by, key=key, op=step.op_number,
        said=digest(_texts(said)), sha256=sha256, tools=sorted(tool.number for tool in said.tools),
        **reported.payload(),
    )  # fmt: skip
    if row.repeated:
        return AsRun.objects.get(row=row)
    own = {field.name: getattr(said, field.name) for field in fields(said) if field.name != "tools"}
    kept = AsRun.objects.create(
        lot=lot, step=step, machine=step.setup.machine, row=row, photo_id=photo_id, noted_at=reported.moment(),
        noted_by=by, **own,
    )  # fmt: skip
    AsRunTool.objects.bulk_create(AsRunTool(as_run=kept, **vars(tool)) for tool in said.tools if not tool.is_empty)
    return kept


def _texts(said: WasSet) -> dict[str, object]:
    own = {field.name: _text(getattr(said, field.name)) for field in fields(said) if field.name != "tools"}
    return own | {"tools": [{name: _text(value) for name, value in vars(tool).items()} for tool in said.tools]}


def _text(value: object) -> str:
    return f"{value.text} {value.unit}" if isinstance(value, Measure) else "" if value is None else str(value)
