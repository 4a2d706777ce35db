"""The ledger as sentences: what the history of a job shows."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.utils.formats import date_format
from django.utils.functional import Promise
from django.utils.timezone import localtime
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopflow.floor import reported
from shopflow.records import ledger
from shopflow.records.models import LedgerRow

NEWEST = 30

WORDS: dict[str, str | Promise] = {
    "advanced": gettext_lazy("moved on from {before} to {after}"),
    "as_run_noted": gettext_lazy("what was set at op {op} noted"),
    "badge_issued": gettext_lazy("badge issued"),
    "badge_taken": gettext_lazy("badge taken back"),
    "brought_back": gettext_lazy("{quantity} brought back at op {op}, were {place}"),
    "chain_heads": gettext_lazy("ends of all histories chained"),
    "changed_at_control": gettext_lazy("program changed at the control, op {op}"),
    "characteristics_saved": gettext_lazy("characteristics changed"),
    "control_profile_added": gettext_lazy("control profile {profile} added"),
    "balloon_placed": gettext_lazy("balloon {balloon} placed on the drawing"),
    "bar_shared": gettext_lazy("the rest of a bar reserved for this job goes to job {other}"),
    "bars_laid_together": gettext_lazy("blanks of several jobs laid into {after} bars instead of {before}"),
    "bars_received": gettext_lazy("{count} bars received"),
    "bars_sawn": gettext_lazy("{bars} bars sawn into {pieces} blanks"),
    "bars_taken": gettext_lazy("{count} bars taken off the rack, {left} left"),
    "blanks_counted": gettext_lazy("{counted} blanks of the customer counted in"),
    "blanks_supplied": gettext_lazy("who supplies the blanks was said"),
    "control_profile_changed": gettext_lazy("control profile {profile} changed"),
    "control_profile_removed": gettext_lazy("control profile {profile} removed"),
    "counted_good": gettext_lazy("{quantity} counted good at op {op}"),
    "customer_changed": gettext_lazy("customer changed"),
    "demo_begun": gettext_lazy("the demo shop began to be filled"),
    "demo_job_begun": gettext_lazy("a job of the demo began"),
    "demo_loaded": gettext_lazy("the demo shop was filled"),
    "disposed": gettext_lazy("nonconformance decided: {verdict}"),
    "drops_returned": gettext_lazy("what was left of the customer's material went back, {returned} pieces"),
    "edges_signed": gettext_lazy("edge sheet signed at op {op}"),
    "edits_taken": gettext_lazy("edits of the program taken"),
    "parts_cut": gettext_lazy("parts of a program ended behind other lines"),
    "program_repeated": gettext_lazy("program taken over as proven in job {job}, lot {lot}, {sha256}"),
    "program_split": gettext_lazy("programs of one file made programs of their own"),
    "file_added": gettext_lazy("{of} file added, {sha256}"),
    "file_withdrawn": gettext_lazy("file withdrawn"),
    "findings_decided": gettext_lazy("findings decided: {verdict}"),
    "first_piece_accepted": gettext_lazy("first piece accepted at op {op}"),
    "house_rule_changed": gettext_lazy("house rule {rule} changed from {before} to {after}"),
    "job_held": gettext_lazy("held at {stage}"),
    "job_resumed": gettext_lazy("resumed at {stage}"),
    "job_taken_in": gettext_lazy("job taken in, {quantity} pieces"),
    "left_out_forgotten": gettext_lazy("what was left out of the plan may be proposed again"),
    "lesson_kept": gettext_lazy("a lesson about the {about} kept"),
    "lesson_retired": gettext_lazy("a lesson about the {about} retired"),
    "lot_released": gettext_lazy("{quantity} pieces released to the floor"),
    "lot_split": gettext_lazy("lot split at op {op}, {quantity} pieces go on alone as lot {part}"),
    "material_received": gettext_lazy("material received, heat {heat_number}"),
    "material_substituted": gettext_lazy("other material approved by the customer, question {number}"),
    "attribute_checked": gettext_lazy("balloon {balloon} of piece {piece} {result}"),
    "gauge_taken": gettext_lazy("balloon {balloon} measured with another gauge from now on"),
    "measured": gettext_lazy("balloon {balloon} of piece {piece} measured {value} {unit}"),
    "miscount_fewer": gettext_lazy("{quantity} fewer than counted at op {op}"),
    "miscount_more": gettext_lazy("{quantity} more than counted at op {op}"),
    "nonconformance_raised": gettext_lazy("nonconformance noted"),
    "nonconformance_placed": gettext_lazy("nonconformance is of a piece in lot {lot}"),
    "note": gettext_lazy("note at op {op}"),
    "op_finished": gettext_lazy("op {op} finished"),
    "op_started": gettext_lazy("op {op} started"),
    "operation_added": gettext_lazy("operation added in setup {setup}: {operation}"),
    "operation_changed": gettext_lazy("operation changed in setup {setup}: {operation}"),
    "operation_moved": gettext_lazy("operation moved in setup {setup}: {operation}"),
    "operation_removed": gettext_lazy("operation taken out of setup {setup}: {operation}"),
    "order_changed": gettext_lazy("order changed"),
    "packet_made": gettext_lazy("packet {number} made"),
    "paper_printed": gettext_lazy("printed: {paper} {number}, {sha256}"),
    "password_changed": gettext_lazy("password changed"),
    "password_given": gettext_lazy("new password given"),
    "person_added": gettext_lazy("person added"),
    "person_changed": gettext_lazy("person changed"),
    "pieces_agreed": gettext_lazy(
        "pieces agree: {made} made, {shipped} shipped, {scrapped} scrapped, {lost} lost; {ordered} ordered"
    ),
    "pieces_held": gettext_lazy("{quantity} held at op {op}"),
    "pieces_scrapped": gettext_lazy("{quantity} scrapped at op {op}"),
    "pin_changed": gettext_lazy("PIN changed"),
    "plan_approved": gettext_lazy("plan approved"),
    "plan_copied": gettext_lazy("plan of an earlier order copied"),
    "plan_proposed": gettext_lazy("plan proposed from the model"),
    "print_and_model_compared": gettext_lazy("revisions of order, print and model compared"),
    "program_made_with": gettext_lazy("said what {program}, revision {revision}, was made with"),
    "program_uploaded": gettext_lazy("program uploaded, revision {revision}, {sha256}"),
    "question_answered": gettext_lazy("question {number} answered"),
    "question_asked": gettext_lazy("question {number} to the customer"),
    "read_back_accepted": gettext_lazy("small change of the program accepted at op {op}"),
    "read_back_compared": gettext_lazy("what came back at op {op} was compared with the floor copy"),
    "read_back_refused": gettext_lazy("read-back of op {op} refused"),
    "read_back_sent": gettext_lazy("program read back from the control at op {op}, {sha256}"),
    "read_back_taken": gettext_lazy("read-back of op {op} taken as a new revision"),
    "remnant_kept": gettext_lazy("{count} remnants put on the rack"),
    "returned": gettext_lazy("{quantity} returned by the customer"),
    "review_asked": gettext_lazy("review of the program asked for"),
    "review_done": gettext_lazy("program reviewed"),
    "rework": gettext_lazy("{quantity} back from op {op} to op {back_to} for rework"),
    "roles_changed": gettext_lazy("roles changed"),
    "sent_outside": gettext_lazy("{quantity} sent outside at op {op}"),
    "setups_from_file": gettext_lazy("setups taken from a setup file"),
    "sample_result": gettext_lazy("balloon {balloon}: {missed} of a sample of {measured} missed, {result}"),
    "severity_said": gettext_lazy("balloon {balloon}: {severity} inspection from now on, by a person"),
    "setup_added": gettext_lazy("setup added"),
    "setup_begun": gettext_lazy("setting up begun at op {op}"),
    "setup_changed": gettext_lazy("setup changed"),
    "setup_freed": gettext_lazy("what was typed for a setup may be proposed again"),
    "setup_removed": gettext_lazy("setup taken out of the plan"),
    "setup_tools_picked": gettext_lazy("tools of a setup picked"),
    "shipped": gettext_lazy("{quantity} shipped"),
    "shop_settings_changed": gettext_lazy("facts about the shop changed"),
    "sign_off_lapsed": gettext_lazy("the sign-off lapsed: {why}"),
    "sign_off_stands_again": gettext_lazy("the sign-off stands again"),
    "signed_off": gettext_lazy("program signed off, {sha256}"),
    "solid_chosen": gettext_lazy("solid {index} chosen"),
    "step_added": gettext_lazy("step added"),
    "step_changed": gettext_lazy("step changed"),
    "step_moved": gettext_lazy("step moved"),
    "step_removed": gettext_lazy("step taken out of the plan"),
    "stock_fell_short": gettext_lazy("what was left of a bar did not hold {pieces} blanks reserved of it"),
    "stock_given_back": gettext_lazy("bars reserved for the job given back"),
    "stock_picked": gettext_lazy("bars picked for the blanks"),
    "stock_received": gettext_lazy("{bars} bars for the blanks received"),
    "tool_edge_changed": gettext_lazy("edge of a tool: {how}"),
    "tool_used": gettext_lazy("{pieces} pieces took of a tool's life at op {op}"),
    "tool_counted_on": gettext_lazy("plans may count on a tool that is on order, it comes {due}"),
    "tool_in_plans": gettext_lazy("a tool that was bought is in the plan: T{tool}"),
    "tool_order_dropped": gettext_lazy("the order of a tool was taken back"),
    "tool_ordered": gettext_lazy("a tool is on order, it comes {due}"),
    "tool_received": gettext_lazy("a tool that was on order is here: T{tool}"),
    "touch_added": gettext_lazy("a stop asked for"),
    "touch_dropped": gettext_lazy("a stop no longer asked for"),
    "unit_confirmed": gettext_lazy("unit of the model confirmed"),
    "units_changed": gettext_lazy("units changed"),
    "work_retried": gettext_lazy("long work started again"),
}
"""A sentence for each kind of row; what a row holds goes in by name. A test looks for kinds without one."""

LAPSES: dict[str, str | Promise] = {
    "bytes": gettext_lazy("other bytes"),
    "assumption": gettext_lazy("something it stands on was changed"),
    "findings": gettext_lazy("the review finds something new or heavier"),
    "motions": gettext_lazy("it moves otherwise than what was signed"),
    "sent-back": gettext_lazy("a finding was sent back or is to be mended"),
    "failed": gettext_lazy("it could not be reviewed again"),
    "unsigned": gettext_lazy("it is not signed off"),
}
"""Why a sign-off lapsed (programs.queries.standing), in words."""

MOST_NAMED = 3


@dataclass(frozen=True)
class Entry:
    """One line of the history."""

    at: datetime
    text: str
    who: str
    reason: str = ""
    url: str = ""


class _Payload(dict[str, object]):
    """A row written before a word was added to its sentence still reads well, and one in which it is empty."""

    def __missing__(self, key: str) -> str:
        return "–"


def words_of(row: LedgerRow) -> str:
    template = str(WORDS.get(row.kind, row.kind.replace("_", " ")))
    payload = {name: _short(name, value) for name, value in row.data.items()}
    if row.kind == "sign_off_lapsed":
        payload["why"] = _why_lapsed(row)
    return template.format_map(_Payload(payload))


def _why_lapsed(row: LedgerRow) -> str:
    """The reason, and the first of the bound values or rules that are concerned."""
    why, named = str(row.data.get("why", "")), row.data.get("what") or []
    said = str(LAPSES.get(why, why or "–"))
    shown = ", ".join(str(name).replace(".", " ").replace("_", " ") for name in named[:MOST_NAMED])
    return f"{said} ({shown}{', …' if len(named) > MOST_NAMED else ''})" if shown else said


def _short(name: str, value: object) -> object:
    return str(value)[:12] if name.endswith("sha256") else "–" if value in ("", None) else value


def entries_of(chain: str, *, newest: int = NEWEST) -> list[Entry]:
    """The newest rows of a chain, newest first, with what people typed beside them."""
    rows = ledger.rows_for(chain).reverse().select_related("by", "remark")[:newest]
    return [_entry(row) for row in rows]


def all_entries(rows: Iterable[LedgerRow]) -> list[Entry]:
    return [_entry(row) for row in rows]


def _entry(row: LedgerRow) -> Entry:
    remark = getattr(row, "remark", None)
    text = words_of(row) + _when_made(row)
    return Entry(row.at, text, str(row.by) if row.by else _("shopflow"), remark.text if remark else "")


def _when_made(row: LedgerRow) -> str:
    """That a report waited on a device for the network; rows of old and of the desk say nothing of it."""
    made = reported.made_earlier(row.data.get("made_at"), arrived=row.at)
    if made is None:
        return ""
    return _(" (made %(when)s, sent later)") % {"when": date_format(localtime(made), "j M H:i")}
