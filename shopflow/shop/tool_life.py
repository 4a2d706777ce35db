"""How much of a tool's life is used: added by what the floor reports, and begun anew with a new or reground edge."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopflow.core.errors import NotPossible
from shopflow.core.review.life import LifeUnit, Use
from shopflow.people.access import Act, require
from shopflow.people.models import User
from shopflow.records import ledger
from shopflow.records.models import LedgerRow
from shopflow.shop.models import Edge, Tool
from shopflow.shop.texts import plain_text

USED, EDGE = "tool_used", "tool_edge_changed"
NEW, REGROUND = "new", "reground"
FRESH = frozenset({NEW, REGROUND})
EDGES = {
    NEW: gettext_lazy("a new one is in"), REGROUND: gettext_lazy("reground, or its inserts are turned"),
    Edge.WORN.value: gettext_lazy("worn: no finish with it"), Edge.OUT.value: gettext_lazy("used up"),
}  # fmt: skip
"""What somebody at the machine or the crib can say of a tool."""
HUNDREDTH = Decimal("0.01")


def note_use(uses: Mapping[int, Use], pieces: int, *, lot: int, op: int, of: str, by: User) -> None:
    """Add what so many pieces took of their tools; below 0 takes back what was reported and never cut.

    To be called in the transaction of the report, after its own ledger row. Tools nobody counts are passed over, and
    so is what a correction says of an edge that was changed since. of: the job's chain.
    """
    counted = Tool.objects.filter(number__in=uses, life__isnull=False).values_list("pk", flat=True)
    if not pieces or not counted:
        return
    ledger.lock(ledger.SHOP)
    for tool in Tool.objects.select_for_update().filter(pk__in=list(counted)):
        each = uses[tool.number].of(LifeUnit(tool.life_unit))
        used = (Decimal(str(each)) * pieces).quantize(HUNDREDTH)
        if not used or (pieces < 0 and not _same_edge(tool, lot, op)):
            continue
        before = tool.life_used
        tool.life_used = max(before + used, Decimal(0))
        tool.save(update_fields=["life_used"])
        ledger.append(
            USED, chain=ledger.SHOP, subject=("tool", tool.pk), by=by, lot=lot, op=op, of=of, pieces=pieces,
            before={"life_used": plain_text(before)}, after={"life_used": plain_text(tool.life_used)},
        )  # fmt: skip


def _same_edge(tool: Tool, lot: int, op: int) -> bool:
    """Whether the edge that cut the pieces of a lot at an op is the one that is in."""
    rows = LedgerRow.objects.filter(chain=ledger.SHOP, subject_kind="tool", subject_id=tool.pk, kind__in=(USED, EDGE))
    for row in rows.order_by("-seq"):
        if row.kind == EDGE and row.data["how"] in FRESH:
            return False
        if row.kind == USED and (row.data["lot"], row.data["op"]) == (lot, op):
            return True
    return False


@transaction.atomic
def set_edge(tool: Tool, how: str, *, by: User) -> Tool:
    """What somebody says of the edge (EDGES); a new or reground one begins its life at 0."""
    require(by, Act.RUN)
    if how not in EDGES:
        raise NotPossible(_("Say what was done: a new one, reground, worn or used up."))
    ledger.lock(ledger.SHOP)
    now = Tool.objects.select_for_update().get(pk=tool.pk)
    before = _state(now)
    if how in FRESH:
        now.edge, now.life_used = Edge.SHARP, Decimal(0)
    else:
        now.edge = Edge(how)
    now.save(update_fields=["edge", "life_used"])
    ledger.append(EDGE, chain=ledger.SHOP, subject=("tool", now.pk), by=by, how=how, before=before, after=_state(now))
    return now


def _state(tool: Tool) -> dict[str, Any]:
    return {"edge": str(tool.edge), "life_used": plain_text(tool.life_used)}
