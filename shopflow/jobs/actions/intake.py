"""What the customer ordered: taken in, and changed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.db import transaction
from django.db.models import Max
from django.utils import timezone
from django.utils.translation import gettext as _

from shopflow.core.errors import NotPossible
from shopflow.jobs import queries
from shopflow.jobs.actions.locked import open_job
from shopflow.jobs.models import Customer, Job, JobFile, Part, PartRevision, Stage
from shopflow.people.access import Act, require
from shopflow.people.models import User
from shopflow.records import ledger
from shopflow.shop import actions as shop
from shopflow.shop import changes
from shopflow.shop.models import Material, StockBar

ALWAYS = ("order_number", "order_line", "due_on", "notes")
"""What may change while pieces are on the floor."""
COUNTED = ("revision", "quantity", "material", "material_note", "governing", "no_model_reason")
"""What may change only before that."""


@dataclass(frozen=True)
class OrderLine:
    """One line of a customer's order, as somebody typed it.

    customer: name, known or new. governing: a Governing, "" where nobody said yet. no_model_reason: why the job has no
    model, "" where it has one.
    """

    customer: str
    part_number: str
    revision: str
    quantity: int
    due_on: date
    part_name: str = ""
    order_number: str = ""
    order_line: str = ""
    material: Material | None = None
    material_note: str = ""
    notes: str = ""
    governing: str = ""
    no_model_reason: str = ""


@transaction.atomic
def take_in(order: OrderLine, *, by: User) -> Job:
    """Open a job for an order line; its number is the year and a running number."""
    require(by, Act.EDIT_JOB)
    job = Job(number=_next_number(), created_by=by, revision=_revision_of(order), **_own_fields(order))
    job.save(force_insert=True)
    ledger.append(
        "job_taken_in", chain=job.chain, subject=("job", job.pk), by=by, number=job.number, quantity=job.quantity,
        due_on=job.due_on, revision=job.revision_id,
    )  # fmt: skip
    return job


@transaction.atomic
def change_order(job: Job, order: OrderLine, *, by: User) -> Job:
    """Write what differs; refuses to change what is being made once pieces are on the floor."""
    require(by, Act.EDIT_JOB)
    now = open_job(job)
    wanted = {"revision": _revision_of(order), **_own_fields(order)}
    changed = [name for name, value in wanted.items() if getattr(now, name) != value]
    if not changed:
        return now
    if now.stage == Stage.FLOOR and (kept := [name for name in changed if name in COUNTED]):
        names = ", ".join(_name(name) for name in kept)
        raise NotPossible(_("Pieces of job %(job)s are being made: %(names)s cannot change any more.") % {
            "job": now.number, "names": names})  # fmt: skip
    before = {name: _plain(now, name) for name in changed}
    for name in changed:
        setattr(now, name, wanted[name])
    now.save(update_fields=changed)
    after = {name: _plain(now, name) for name in changed}
    ledger.append("order_changed", chain=now.chain, subject=("job", now.pk), by=by, before=before, after=after)
    changes.announce(by=by, jobs=[now.pk])
    return now


@transaction.atomic
def receive_material(job: Job, *, by: User, heat_number: str, received: bool = True) -> Job:
    """Note that the material is here, with its heat or lot number where the material asks for one."""
    require(by, Act.EDIT_JOB)
    now = open_job(job)
    if received and now.material and now.material.needs_heat_number and not heat_number:
        raise NotPossible(
            _("%s asks for a heat or lot number: type it as the mill certificate says it.") % now.material
        )
    now.heat_number, now.material_received = heat_number, received
    now.save(update_fields=["heat_number", "material_received"])
    ledger.append(
        "material_received", chain=now.chain, subject=("job", now.pk), by=by, heat_number=heat_number, here=received
    )
    return now


@transaction.atomic
def compare_print_and_model(
    job: Job, *, by: User, print_revision: str = "", model_revision: str = "", threads: str = "", settled: str = ""
) -> Job:
    """Note which revisions the newest print and model are, how the model shows threads, and why revisions may differ.

    settled: kept only while they do differ, so that it never covers a later difference unseen.
    """
    require(by, Act.EDIT_JOB)
    now = open_job(job)
    named = {JobFile.Kind.DRAWING: print_revision, JobFile.Kind.MODEL: model_revision}
    for kind, revision in named.items():
        file = queries.current_file(now, kind)
        if file is not None and file.revision != revision.strip():
            file.revision = revision.strip()
            file.save(update_fields=["revision"])
    found = queries.revisions_of(now)
    now.threads, now.revisions_settled = threads, settled.strip() if found.differ else ""
    now.save(update_fields=["threads", "revisions_settled"])
    ledger.append(
        "print_and_model_compared", chain=now.chain, subject=("job", now.pk), by=by, differ=found.differ,
        settled=bool(now.revisions_settled), threads=threads,
    )  # fmt: skip
    return now


@transaction.atomic
def change_customer(customer: Customer, *, by: User, name: str, address: str) -> Customer:
    """Correct a customer's name and where the parts go."""
    require(by, Act.EDIT_JOB)
    now = Customer.objects.select_for_update().get(pk=customer.pk)
    if Customer.objects.filter(name=name).exclude(pk=now.pk).exists():
        raise NotPossible(_("There is a customer of this name already."))
    if (now.name, now.address) != (name, address):
        _rename_owner(now.name, name, by=by)
        now.name, now.address = name, address
        now.save(update_fields=["name", "address"])
        ledger.append("customer_changed", chain=ledger.SHOP, subject=("customer", now.pk), by=by)
    return now


def _rename_owner(before: str, after: str, *, by: User) -> None:
    """Bars of the customer's on the rack keep their owner."""
    rows = list(StockBar.objects.filter(owner__iexact=before)) if before != after else []
    for row in rows:
        row.owner = after
    shop.save_all(rows, by=by)


def _own_fields(order: OrderLine) -> dict[str, object]:
    names = (*ALWAYS, "quantity", "material", "material_note", "governing", "no_model_reason")
    return {name: getattr(order, name) for name in names}


def _revision_of(order: OrderLine) -> PartRevision:
    customer, _new = Customer.objects.get_or_create(name=order.customer)
    part, _new = Part.objects.get_or_create(customer=customer, number=order.part_number)
    if order.part_name and part.name != order.part_name:
        part.name = order.part_name
        part.save(update_fields=["name"])
    revision, _new = PartRevision.objects.get_or_create(part=part, revision=order.revision)
    return revision


def _next_number() -> str:
    """The year's two digits and a running number; the shop's chain is held so that two people never get the same."""
    ledger.lock(ledger.SHOP)
    year = f"{timezone.localdate():%y}"
    last = Job.objects.filter(number__regex=rf"^{year}-\d{{4}}$").aggregate(last=Max("number"))["last"]
    return f"{year}-{int(last.split('-')[1]) + 1 if last else 1:04d}"


def _name(field: str) -> str:
    """What a field is called on the page."""
    found = Job._meta.get_field(field)
    return str(getattr(found, "verbose_name", field))


def _plain(job: Job, name: str) -> object:
    """What the ledger keeps of a field: ids and figures, never words that may have to be erased."""
    if name in ("revision", "material"):
        return getattr(job, f"{name}_id")
    return getattr(job, name) if name in ("quantity", "due_on", "governing") else None
