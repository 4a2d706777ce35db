"""Planned jobs, tools and programs for tests; programs come in by the app's own actions and are reviewed in place."""

from shopflow.jobs.models import Setup, SetupTool
from shopflow.people.models import Role, RoleGrant
from shopflow.programs import actions, queries
from shopflow.records import work
from shopflow.shop.models import Holder, Machine, Tool
from tests.jobs.objects import a_job, a_material
from tests.objects import makes, makes_all

HEAD = "%\nO1001 (PLATE OP 10)\nG21 G17 G90 G40 G80\n"
MILL = "T1 M6\nG54 G0 X0. Y0. S4000 M3\nG43 H1 Z50. M8\nZ5.\nG1 Z-2. F200.\nX40. F600.\nG0 Z50. M9\nM5\n"
DRILL = "T2 M6\nG54 G0 X10. Y10. S1200 M3\nG43 H2 Z50. M8\nZ5.\nG1 Z-{depth} F120.\nG0 Z50. M9\nM5\n"
END = "G53 G0 Z0.\nM30\n%\n"
GOOD = (HEAD + MILL + END).encode()


def a_program(*, depth=None):
    """Mills a slot; with a depth also drills a hole so deep, in mm, with the 6 mm high-speed-steel drill T2."""
    return (HEAD + MILL + (DRILL.format(depth=depth) if depth else "") + END).encode()


def the_crib():
    """T1, a 10 mm carbide end mill in a holder, and T2, a 6 mm high-speed-steel drill."""
    holder, _ = Holder.objects.get_or_create(name="collet chuck", defaults={"profile": [[0, 40], [60, 40]]})
    mill, _ = Tool.objects.get_or_create(
        number=1,
        defaults={
            "name": "roughing mill", "shape": "flat end mill", "diameter": "10 mm", "flute_length": "22 mm",
            "stickout": "35 mm", "shank_diameter": "10 mm", "flutes": 3, "holder": holder,
        },
    )  # fmt: skip
    drill, _ = Tool.objects.get_or_create(
        number=2,
        defaults={
            "name": "jobber drill", "shape": "drill", "diameter": "6 mm", "material": "high-speed steel",
            "point_angle": 118, "flute_length": "57 mm", "stickout": "70 mm", "shank_diameter": "6 mm",
        },
    )  # fmt: skip
    return mill, drill


def a_machine(name="the small mill"):
    travel = {"travel_x": "760 mm", "travel_y": "400 mm", "travel_z": "500 mm"}
    return Machine.objects.get_or_create(name=name, defaults=travel)[0]


def a_planned_job(by, *, setups=1, same_offset=False, **changes):
    """A job whose setups stand on one machine, each in an offset of its own unless they share G54."""
    mill, drill = the_crib()
    job = a_job(by, **{"material": a_material(name=f"aluminium {Setup.objects.count()}"), **changes})
    for number in range(1, setups + 1):
        setup = Setup.objects.create(
            job=job, number=number, title=f"side {number}", machine=a_machine(), workholding="vise, 6 mm grip",
            grip="6 mm", work_offset=1 if same_offset else number, zero_point="top, back left corner",
            blank_x="100 mm", blank_y="60 mm", blank_z="25 mm", blank_over="1 mm",
            along_x="+X", zero_x="0 mm", zero_y="0 mm", zero_z="0 mm",
        )  # fmt: skip
        SetupTool.objects.create(setup=setup, tool=mill, purpose="outside")
        SetupTool.objects.create(setup=setup, tool=drill, purpose="holes")
    return job


def upload(job, data=GOOD, *, by, name="1001", reviewed=True, **more):
    """Send a program in, and have its review done here and now."""
    more.setdefault("setups", list(job.setups.all()))
    revision = actions.upload(job, data, by=by, name=name, file_name=f"{name}.nc", **more)
    if reviewed:
        review(revision)
    return revision


def again(revision, data, *, by):
    """The next revision of the same program."""
    program = revision.program
    return upload(program.job, data, by=by, name=program.name, program=program, setups=list(program.setups.all()))


def review(revision):
    """Do what a worker would: the review that the revision waits for."""
    waiting = queries.review_of(revision).work
    done = work.run(waiting.pk, actions.review_program, save=actions.note_review)
    assert done is None or not done.error, done.error
    return revision


def accept(revision, *, by, reason="fits this part", code=None):
    keys = [f.key for f in queries.findings(revision) if f.weight == "decide" and code in (None, f.code)]
    return actions.decide(revision, keys, by=by, verdict="accept", reason=reason)


def sign(revision, *, by, password="seven brass fittings", **more):
    if not by.check_password(password):  # setting it would end the person's sessions
        by.set_password(password)
        by.save()
    said = {"printed_name": "R. Eviewer", "meaning": "released for this plan", **more}
    return actions.sign_off(revision, by=by, password=password, **said)


def everyone_at_once(person):
    """A person who wears every hat, as in a shop of one."""
    RoleGrant.objects.bulk_create([RoleGrant(user=person, role=role) for role in Role.values], ignore_conflicts=True)
    person.forget_roles()
    return person


@makes("revision_id")
def the_id_of_a_revision(everybody):
    return upload(a_planned_job(everybody["lead"]), by=everybody["lead"]).pk


@makes_all("programs:stock_stretch")
def a_stretch(everybody):
    return a_drawing(everybody) | {"number": 0}


@makes_all("programs:stock")
@makes_all("programs:deviation")
@makes_all("programs:path")
def a_drawing(everybody):
    return {"revision_id": the_id_of_a_revision(everybody), "offset": 1}


@makes_all("programs:zero")
def a_revision_and_its_setup(everybody):
    revision_id = the_id_of_a_revision(everybody)
    setup = Setup.objects.filter(programs__revisions=revision_id).first()
    return {"revision_id": revision_id, "setup_id": setup.pk}


@makes_all("programs:difference")
def two_revisions(everybody):
    first = upload(a_planned_job(everybody["lead"]), by=everybody["lead"])
    return {"revision_id": again(first, a_program(depth=3), by=everybody["lead"]).pk, "base_id": first.pk}


@makes_all("programs:repeat")
def a_job_and_a_revision_of_another(everybody):
    job = a_planned_job(everybody["lead"])
    return {"job_id": job.pk, "revision_id": upload(a_planned_job(everybody["lead"]), by=everybody["lead"]).pk}


@makes("lesson_id")
def the_id_of_a_lesson(everybody):
    return actions.keep_lesson(the_crib()[0], "slower in the corners", by=everybody["lead"]).pk
