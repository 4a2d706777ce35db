"""Jobs at each stage, brought there through the gates by the app's own actions."""

from shopflow.core.review import Weight
from shopflow.floor import queries as floor
from shopflow.floor import read_back_actions
from shopflow.jobs import actions as jobs
from shopflow.jobs.models import Characteristic, Stage, Step
from shopflow.jobs.queries import plan_hash
from shopflow.papers import actions as papers
from shopflow.programs import queries
from shopflow.records import files, work
from shopflow.workflow import actions
from tests.jobs.objects import a_drawing
from tests.objects import makes
from tests.people_fixtures import make_person
from tests.programs.objects import a_planned_job, accept, everyone_at_once, sign, upload


def at_plan(person, **changes):
    """A job without a model (its print stands in), complete, at the plan stage; the person wears every hat."""
    everyone_at_once(person)
    given = {"no_model_reason": "paper print", "governing": "print", "quantity": 5}
    job = a_planned_job(person, **{**given, **changes})
    a_drawing(job, person)
    return actions.advance(job, by=person)


def at_review(person, **changes):
    job = at_plan(person, **changes)
    a_routing_for(job)
    jobs.approve_plan(job, by=person, seen=plan_hash(job))
    return actions.advance(job, by=person)


def a_routing_for(job):
    """Saw, the setups of the job, deburr, inspect with one characteristic, ship."""
    setups = list(job.setups.order_by("number"))
    for setup in setups:
        setup.stock_in, setup.pick_up = "sawn blank", "edge finder"
        setup.save()
    kinds = [(Step.Kind.SAW, None), *((Step.Kind.MILL, setup) for setup in setups),
             (Step.Kind.DEBURR, None), (Step.Kind.INSPECT, None), (Step.Kind.SHIP, None)]  # fmt: skip
    for number, (kind, setup) in enumerate(kinds, start=1):
        Step.objects.create(job=job, op_number=10 * number, kind=kind, title=f"{kind.value} it", setup=setup)
    inspection = job.steps.get(kind=Step.Kind.INSPECT)
    Characteristic.objects.create(
        job=job, number=1, name="slot width", nominal="10 mm", lower="9.95 mm", upper="10.05 mm", step=inspection
    )


def at_release(person, **changes):
    job = at_review(person, **changes)
    revision = upload(job, by=person)
    if any(finding.weight == Weight.DECIDE for finding in queries.findings(revision)):
        accept(revision, by=person)
    sign(revision, by=person)
    return actions.advance(job, by=person)


def with_material(job, person):
    return jobs.receive_material(job, by=person, heat_number="H-1188")


def with_packet(job, person):
    """The packet made, and its traveler printed here and now as a worker would."""
    packet = actions.print_packet(job, by=person)
    done = work.run(packet.traveler_work_id, papers.print_traveler, save=papers.keep_traveler)
    assert done is not None and not done.error, done
    packet.refresh_from_db()
    return packet


def on_floor(person, **changes):
    job = with_material(at_release(person, **changes), person)
    with_packet(job, person)
    job = actions.advance(job, by=person)
    assert job.stage == Stage.FLOOR
    return job


@makes("copy_id")
def the_id_of_a_floor_copy(everybody):
    """Made by somebody of their own: the walk's people keep the one role that they are there for."""
    person = make_person("somebody_at_release")
    packet = actions.print_packet(with_material(at_release(person), person), by=person)
    return packet.floor_copies.first().pk


@makes("read_back_id")
def the_id_of_a_read_back(everybody):
    """As the floor copy came back, one feed slower; sent in by somebody of their own."""
    person = make_person("somebody_at_the_machine")
    job = on_floor(person)
    step = job.steps.get(kind=Step.Kind.MILL)
    with files.open_file(floor.floor_copy_of(step).stored) as handle:
        data = handle.read().replace(b"F600.", b"F400.")
    return read_back_actions.send(job.lots.get(), step, data, by=person, file_name="1001.nc").pk
