"""The demo's jobs, each brought as far as its description says, one report after the other."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import nullcontext
from datetime import timedelta
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone

from shopflow.commands.demo import people as demo_people
from shopflow.commands.demo import seed
from shopflow.core.errors import NotPossible
from shopflow.core.measure import parse
from shopflow.floor import actions as floor
from shopflow.floor import as_run_actions, read_back_actions, reported
from shopflow.floor import queries as floor_queries
from shopflow.floor.models import Packet
from shopflow.jobs import actions as jobs
from shopflow.jobs import queries as job_queries
from shopflow.jobs.models import Job, JobFile, Setup, Stage, Step
from shopflow.people.models import User
from shopflow.programs import actions as programs
from shopflow.programs import queries as program_queries
from shopflow.programs.models import Decision, ProgramRevision
from shopflow.records import files, work
from shopflow.shop.models import Fixture, Gauge, Machine, Material, Tool
from shopflow.workflow import actions as workflow

Spec = dict[str, Any]
People = dict[str, User]

LENGTHS = ("jaw_length", "jaw_thick", "parallel_height", "parallel_thick", "bed_height", "vary_x", "vary_y", "vary_z")
TYPED = ("up", "along_x", "title", "workholding", "pick_up_by", "pick_up", "stock_in")
SIGNED = "I read the program against the plan and the part."
COMPARED = "first and last lines, and the hash on the traveler"


def load(spec: Spec, people: People) -> Job:
    """Take one job in and bring it to the stage that it names. Raises CoreError where a gate stays closed.

    A job `like` another one of the file (by its order) has what that one says, but for what it says itself.
    """
    spec = _whole(spec)
    job = _take_in(spec, people["odile"])
    for stage, act in (
        (Stage.INTAKE, None),
        (Stage.PLAN, _plan),
        (Stage.REVIEW, _programs),
        (Stage.RELEASE, _release),
        (Stage.FLOOR, _floor),
    ):
        if stage != Stage.INTAKE:
            job = workflow.advance(job, by=people["odile"])
        if act:
            act(job, spec, people)
        if stage == spec["until"]:
            break
    return job


def _whole(spec: Spec) -> Spec:
    if "like" not in spec:
        return spec
    like: Spec = next(one for one in seed.values("jobs.toml")["job"] if one["order"] == spec["like"])
    return like | spec


def _take_in(spec: Spec, by: User) -> Job:
    job = jobs.take_in(_order(spec), by=by)
    jobs.change_customer(job.customer, by=by, name=spec["customer"], address=_address(spec["customer"]))
    jobs.add_file(job, _upload(spec["model"]), by=by, kind=JobFile.Kind.MODEL)
    if "question" in spec:
        question = jobs.ask_question(job, by=by, text=spec["question"])
        jobs.answer_question(question, by=by, answer=spec["answer"])
    job.refresh_from_db()
    if job_queries.reading_of(job) is None:
        raise NotPossible(job_queries.why_not_read(job))
    return job


def _address(customer: str) -> str:
    return next(line["address"] for line in seed.rows("customers.csv") if line["name"] == customer)


def _order(spec: Spec) -> jobs.OrderLine:
    return jobs.OrderLine(
        customer=spec["customer"],
        part_number=spec["part"],
        part_name=spec["part_name"],
        revision=spec["revision"],
        order_number=spec["order"],
        order_line=spec["line"],
        quantity=spec["quantity"],
        due_on=timezone.localdate() + timedelta(days=spec["due_in_days"]),
        material=Material.objects.get(name=spec["material"]),
        material_note=spec["material_note"],
        notes=spec["notes"],
        governing=spec["governing"],
    )


def _upload(name: str) -> SimpleUploadedFile:
    path = seed.path(name)
    return SimpleUploadedFile(path.name, path.read_bytes())


def _plan(job: Job, spec: Spec, people: People) -> None:
    """Propose, then type over it what the programs were written for; left unapproved where the job stops here."""
    by = people["tomasz"]
    jobs.propose_plan(job, by=by)
    if spec["until"] == Stage.PLAN:
        return
    setups = [_setup(job, wanted, by=by) for wanted in spec["setup"]]
    for other in job.setups.exclude(pk__in=[setup.pk for setup in setups]):
        jobs.remove_setup(other, by=by)
    _operations(job, by=by)
    jobs.save_characteristics(job, [_characteristic(job, line) for line in spec.get("characteristic", [])], by=by)
    job.refresh_from_db()
    jobs.approve_plan(job, by=by, seen=job_queries.plan_hash(job))


def _setup(job: Job, wanted: Spec, *, by: User) -> Setup:
    setup = job.setups.filter(up=wanted["up"]).first() or jobs.add_setup(job, by=by)
    typed = {name: wanted[name] for name in TYPED}
    sizes = dict(zip(("blank_x", "blank_y", "blank_z"), map(_length, wanted["blank"]), strict=True))
    zero = dict(zip(("zero_x", "zero_y", "zero_z"), map(_length, wanted["zero"]), strict=True))
    jobs.change_setup(
        setup,
        by=by,
        machine=Machine.objects.get(name=wanted["machine"]),
        grip=_length(wanted["grip"]),
        blank_over=_length(wanted["blank_over"]),
        work_offset=wanted.get("work_offset", 1),
        held_by=wanted.get("held_by", ""),
        fixture=Fixture.objects.filter(number=wanted.get("fixture", "")).first(),
        jaws_along=wanted.get("jaws_along", "X"),
        **{name: _length(wanted[name]) for name in LENGTHS if name in wanted},
        **typed,
        **sizes,
        **zero,
    )
    for row in setup.setup_tools.all():
        jobs.drop_tool(row, by=by)
    for number, purpose in wanted["tools"].items():
        jobs.add_tool(setup, by=by, tool=Tool.objects.get(number=int(number)), purpose=purpose)
    if "touch" in wanted:
        jobs.add_touch(setup, by=by, reason=wanted["touch"])
    return setup


def _operations(job: Job, *, by: User) -> None:
    """Proposed again with the tools that were picked; what none of them cuts was cut before the blanks came."""
    jobs.propose_plan(job, by=by)
    for setup in job.setups.all():
        for operation in setup.operations.filter(tool=None):
            jobs.remove_operation(operation, by=by)


def _length(text: str) -> Any:
    return parse(text, default_unit="mm")


def _characteristic(job: Job, line: Spec) -> jobs.CharacteristicLine:
    return jobs.CharacteristicLine(
        name=line["name"],
        nominal=_length(line["nominal"]),
        lower=_length(line["lower"]),
        upper=_length(line["upper"]),
        gauge=Gauge.objects.get(number=line["gauge"]),
        note=line.get("note", ""),
        sampling=line.get("sampling", ""),
        step=job.steps.filter(kind=Step.Kind.INSPECT).first(),
    )


def _programs(job: Job, spec: Spec, people: People) -> None:
    """Upload the programs; decided and signed off where the job goes on from here.

    `later`: reviewed by the worker once the shop runs, so that nobody waits for it at the first start.
    """
    for wanted in spec["program"]:
        with work.left_for_the_sweep() if wanted.get("later") else nullcontext():
            revision = _send_in(job, wanted, by=people["tomasz"])
        if spec["until"] != Stage.REVIEW:
            _sign_off(revision, spec, people["ines"])


def _send_in(job: Job, wanted: Spec, *, by: User) -> ProgramRevision:
    return programs.upload(
        job,
        seed.path(wanted["file"]).read_bytes(),
        by=by,
        name=wanted["name"],
        setups=list(job.setups.filter(number__in=wanted["setups"])),
        file_name=seed.path(wanted["file"]).name,
        made_with=wanted.get("made_with", ""),
        made_settings=wanted.get("made_settings", ""),
    )


def _sign_off(revision: ProgramRevision, spec: Spec, by: User) -> None:
    found = program_queries.Reviewed(program_queries.fresh(revision)).findings
    open_keys = [finding.key for finding in found if finding.is_open and not finding.is_must_fix]
    if open_keys:
        programs.decide(revision, open_keys, by=by, verdict=Decision.Verdict.ACCEPT, reason=spec["decisions"])
    password = demo_people.password_of(by)
    programs.sign_off(revision, by=by, password=password, printed_name=str(by), meaning=SIGNED)


def _release(job: Job, spec: Spec, people: People) -> None:
    by = people["odile"]
    job = jobs.receive_material(job, by=by, heat_number=spec.get("heat_number", ""))
    packet = workflow.print_packet(job, by=by)
    if (
        "released_hours_ago" in spec
    ):  # a lot that ran before this start: nobody could report it earlier than its release
        before = timezone.now() - timedelta(hours=spec["released_hours_ago"])
        Packet.objects.filter(pk=packet.pk).update(released_at=before)


def _floor(job: Job, spec: Spec, people: People) -> None:
    lot = job.lots.get()
    for report in spec["report"]:
        step = job.steps.get(op_number=report["op"])
        REPORTS[report["do"]](lot, step, report, people["ruben"])


def _start(lot: Any, step: Step, report: Spec, by: User) -> Any:
    compared = COMPARED if floor_queries.floor_copy_of(step) else ""
    machine = step.setup.machine if step.setup else None
    return floor.start(lot, step, by=by, machine=machine, compared=compared, confirmed=list(floor.SETUP_CHECKS))


def _run(lot: Any, step: Step, report: Spec, by: User) -> None:
    run = _start(lot, step, report, by)
    floor.count_good(run, report["pieces"], by=by)
    floor.finish(run, by=by)


def _ran(lot: Any, step: Step, report: Spec, by: User) -> None:
    """An op as it ran hours ago, piece by piece: reported as from a device that had no network meanwhile."""
    moment = timezone.now() - timedelta(hours=report["hours_ago"])
    if "set_up_minutes" in report:
        with reported.made_at(moment - timedelta(minutes=report["set_up_minutes"])):
            floor.begin_setting_up(lot, step, by=by)
    with reported.made_at(moment):
        run = _start(lot, step, report, by)
    if "offset" in report:
        _set(lot, step, report, by)
    if step.first_piece:
        with reported.made_at(moment + timedelta(minutes=report["minutes"][0])):
            floor.accept_first_piece(run, by=by, note=report["note"])
    for minutes in report["minutes"]:
        moment += timedelta(minutes=minutes)
        with reported.made_at(moment):
            floor.count_good(_open(lot, step), 1, by=by)
    with reported.made_at(moment):
        floor.finish(_open(lot, step), by=by)


def _set(lot: Any, step: Step, report: Spec, by: User) -> None:
    """What was set for the lot: the zero, the feed override, and a length for each tool."""
    x, y, z = (parse(text, default_unit="mm") for text in report["offset"])
    first = parse(report["length"], default_unit="mm")
    needed = step.setup.setup_tools.select_related("tool") if step.setup else ()
    tools = [
        as_run_actions.ToolSet(row.tool.number, parse(str(first.value + 7 * n), default_unit="mm"))
        for n, row in enumerate(needed)
    ]
    said = as_run_actions.WasSet(
        step.setup.work_offset_code if step.setup else "", x, y, z, feed_override=report["feed_override"],
        note=report["note"], tools=tools,
    )  # fmt: skip
    as_run_actions.note(lot, step, said, by=by)


def _read_back(lot: Any, step: Step, report: Spec, by: User) -> None:
    """One feed turned down at the control: said, sent in, accepted with a note; a reviewer looks next."""
    copy = floor_queries.floor_copy_of(step)
    if copy is None:
        raise NotPossible(f"seed_data/jobs.toml: {step} runs no program")
    data = files.content(copy.stored)
    was, becomes = report["find"].encode(), report["becomes"].encode()
    if was not in data:
        raise NotPossible(f"seed_data/jobs.toml: {copy.name} holds no {report['find']}")
    read_back_actions.say_changed(_open(lot, step), by=by)
    row = read_back_actions.send(lot, step, data.replace(was, becomes, 1), by=by, file_name=copy.file_name)
    read_back_actions.accept(row, note=report["note"], by=by)


def _first_piece(lot: Any, step: Step, report: Spec, by: User) -> None:
    floor.accept_first_piece(_open(lot, step), by=by, note=report["note"])


def _count(lot: Any, step: Step, report: Spec, by: User) -> None:
    floor.count_good(_open(lot, step), report["pieces"], by=by)


def _scrap(lot: Any, step: Step, report: Spec, by: User) -> None:
    floor.scrap(lot, step, report["pieces"], reason=report["reason"], by=by)


def _open(lot: Any, step: Step) -> Any:
    run = floor_queries.open_run(lot, step)
    if run is None:
        raise NotPossible(f"seed_data/jobs.toml: {step} is not started")
    return run


REPORTS: dict[str, Callable[[Any, Step, Spec, User], Any]] = {
    "start": _start,
    "run": _run,
    "ran": _ran,
    "set": _set,
    "read back": _read_back,
    "first piece": _first_piece,
    "count": _count,
    "scrap": _scrap,
}
