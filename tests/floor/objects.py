"""Lots on the floor, put there by the app's own actions: of a job whose milling op is manual, so has no program."""

from django.db import transaction

from shopflow.floor import actions, as_run_actions, queries
from shopflow.jobs.models import Job, Setup, Stage, Step
from shopflow.shop.models import Machine
from tests.jobs.objects import a_job
from tests.objects import makes, makes_all

SETUP_CHECKS = list(actions.SETUP_CHECKS)


def a_machine(name="Long mill"):
    found, _ = Machine.objects.get_or_create(
        name=name, defaults={"travel_x": "800 mm", "travel_y": "400 mm", "travel_z": "450 mm"}
    )
    return found


def a_routing(job):
    """Saw, mill by hand, deburr, inspect, ship."""
    setup = Setup.objects.create(job=job, number=1, machine=a_machine(), manual_reason="one slot, by hand")
    kinds = (Step.Kind.SAW, Step.Kind.MILL, Step.Kind.DEBURR, Step.Kind.INSPECT, Step.Kind.SHIP)
    return [
        Step.objects.create(
            job=job,
            op_number=10 * (n + 1),
            kind=kind,
            title=kind.value,
            setup=setup if kind == Step.Kind.MILL else None,
        )
        for n, kind in enumerate(kinds)
    ]


def a_lot(lead, quantity=12):
    """A lot on the floor, all pieces at op 10; released by the floor's action, the stage as workflow leaves it."""
    job = a_job(lead, quantity=quantity)
    a_routing(job)
    Job.objects.filter(pk=job.pk).update(stage=Stage.FLOOR)
    return actions.put_on_floor(Job.objects.get(pk=job.pk), by=lead)


def op(lot, number):
    return lot.job.steps.get(op_number=number)


def started(lot, number, by):
    checks = SETUP_CHECKS if op(lot, number).setup_id else []
    return actions.start(lot, op(lot, number), by=by, confirmed=checks)


def passed_on(lot, number, quantity, by):
    """Pieces counted good at an op."""
    with transaction.atomic():
        run = queries.open_run(lot, op(lot, number)) or started(lot, number, by)
        if run.step.kind == Step.Kind.DEBURR:
            run = actions.sign_edges(run, by=by)
        return actions.count_good(run, quantity, by=by, is_inspected=run.step.kind == Step.Kind.INSPECT)


@makes("lot_id")
def the_id_of_a_lot(everybody):
    return a_lot(everybody["lead"]).pk


def _lot_and_step(everybody):
    lot = a_lot(everybody["lead"])
    return {"lot_id": lot.pk, "step_id": op(lot, 10).pk}


for _name in ("op", "start"):
    makes_all(f"floor:{_name}")(_lot_and_step)


@makes_all("floor:report")
def a_report(everybody):
    return _lot_and_step(everybody) | {"what": "finish"}


@makes_all("floor:station")
def a_station(everybody):
    return {"key": "saw"}


@makes("packet_id")
def the_id_of_a_packet(everybody):
    lot = a_lot(everybody["lead"])
    return actions.make_packet(lot.job, by=everybody["lead"], content_hash="0" * 64).pk


@makes_all("floor:scan")
def a_scan(everybody):
    lot = a_lot(everybody["lead"])
    packet = actions.make_packet(lot.job, by=everybody["lead"], content_hash="0" * 64)
    return {"packet_id": packet.pk, "step_id": op(lot, 10).pk}


@makes("as_run_id")
def the_id_of_a_record_with_a_photo(everybody):
    lot = a_lot(everybody["lead"])
    picture = b"\x89PNG\r\n\x1a\n" + b"\0" * 20
    return as_run_actions.note_photo(lot, op(lot, 20), picture, by=everybody["lead"]).pk


@makes_all("floor:photo")
def a_lot_and_its_milling_op(everybody):
    lot = a_lot(everybody["lead"])
    return {"lot_id": lot.pk, "step_id": op(lot, 20).pk}
