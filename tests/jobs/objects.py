"""Jobs for tests, made by the app's own actions."""

import datetime as dt
from pathlib import Path

from django.core.files.uploadedfile import SimpleUploadedFile

from shopflow.jobs import actions, queries
from shopflow.jobs.actions import OrderLine
from shopflow.jobs.models import Job, JobFile
from shopflow.records.models import Work
from shopflow.shop.models import Machine, Material, StockBar, Tool
from tests.core.planning.parts import a_reading
from tests.objects import makes, makes_all

MODELS = Path(__file__).resolve().parents[3] / "shared" / "models"

DUE = dt.date(2031, 5, 20)
PDF = b"%PDF-1.7\n1 0 obj\n<<>>\nendobj\ntrailer\n<<>>\n%%EOF\n"
STEP_HEAD = b"ISO-10303-21;\nHEADER;\nFILE_SCHEMA(('AP214'));\nENDSEC;\nDATA;\n"


def an_order(**changes):
    given = {"customer": "Brookside Pumps", "part_number": "BP-1140", "revision": "C", "quantity": 12, "due_on": DUE}
    return OrderLine(**{**given, **changes})


def a_job(by, **changes):
    return actions.take_in(an_order(**changes), by=by)


def an_upload(content, name="part.step"):
    return SimpleUploadedFile(name, content)


def a_material(**changes):
    given = {"name": "aluminium 6061", "group": "aluminium", "density": 2700}
    return Material.objects.create(**{**given, **changes})


def a_drawing(job, by, name="print.pdf"):
    return actions.add_file(job, an_upload(PDF, name), by=by, kind=JobFile.Kind.DRAWING)


@makes_all("jobs:file")
def a_file_of_a_job(everybody):
    job = a_job(everybody["lead"])
    return {"job_id": job.pk, "file_id": a_drawing(job, everybody["lead"]).pk}


@makes_all("jobs:answer")
def a_question_of_a_job(everybody):
    job = a_job(everybody["lead"])
    return {"job_id": job.pk, "question_id": actions.ask_question(job, by=everybody["lead"], text="Which finish?").pk}


@makes("job_id")
def the_id_of_a_job(everybody):
    return a_job(everybody["lead"]).pk


def a_machine(name="small mill", **changes):
    given = {"travel_x": "760 mm", "travel_y": "400 mm", "travel_z": "500 mm"}
    return Machine.objects.create(name=name, **{**given, **changes})


def a_tool(number, name, shape, diameter, **changes):
    given = {"flute_length": "30 mm", "stickout": "45 mm", "flutes": 3}
    return Tool.objects.create(number=number, name=name, shape=shape, diameter=diameter, **{**given, **changes})


def a_crib():
    """What a_reading asks for: face mill, end mills, drill with its spot drill, chamfer mill."""
    return [
        a_tool(1, "face mill", "face mill", "50 mm", material="carbide insert", flute_length="5 mm"),
        a_tool(2, "end mill", "flat end mill", "12 mm"),
        a_tool(3, "small end mill", "flat end mill", "6 mm", flute_length="18 mm"),
        a_tool(4, "drill", "drill", "6.6 mm", material="high-speed steel", point_angle=118, flute_length="60 mm"),
        a_tool(5, "spot drill", "spot drill", "6 mm", point_angle=90),
        a_tool(6, "chamfer mill", "chamfer mill", "10 mm", point_angle=90),
    ]


def a_read_job(by, reading=None, **order):
    """A job whose model is a plate, with the reading that a worker would have stored."""
    return read_now(a_job(by, **order), by, reading)


def read_now(job, by, reading=None):
    """The job with a model and its reading."""
    actions.add_file(job, an_upload(STEP_HEAD), by=by, kind=JobFile.Kind.MODEL)
    job.refresh_from_db()
    result = (reading or a_reading()).to_json()
    Work.objects.filter(pk=job.reading_id).update(state=Work.State.DONE, result=result)
    return Job.objects.get(pk=job.pk)


def a_planned_job(by):
    """A job with its plan proposed, in a shop with a machine and a crib."""
    a_machine()
    a_crib()
    job = a_read_job(by, material=a_material())
    actions.propose_plan(job, by=by)
    return job


@makes_all("jobs:model_mesh")
def a_model_of_a_job(everybody):
    job = a_read_job(everybody["lead"])
    return {"job_id": job.pk, "file_id": job.files.get().pk}


@makes("setup_id")
def the_id_of_a_setup(everybody):
    return a_planned_job(everybody["lead"]).setups.first().pk


@makes("step_id")
def the_id_of_a_step(everybody):
    return a_planned_job(everybody["lead"]).steps.first().pk


@makes("operation_id")
def the_id_of_an_operation(everybody):
    lead = everybody["lead"]
    setup = actions.add_setup(a_job(lead), by=lead)
    return actions.add_operation(setup, by=lead, kind="drill", what="2 holes").pk


@makes("order_id")
def the_id_of_a_tool_on_order(everybody):
    return actions.order_tool("a drill", by=everybody["lead"], due_on=DUE).pk


@makes("customer_id")
def the_id_of_a_customer(everybody):
    return a_job(everybody["lead"]).customer.pk


def a_rack(material, **changes):
    """A flat bar that a_reading comes out of, eight times and four times, of two heats."""
    given = {"material": material, "shape": "flat bar", "thickness": "20 mm", "width": "50 mm"}
    return [
        StockBar.objects.create(**{**given, **one, **changes})
        for one in (
            {"number": "B-01", "length": "600 mm", "on_hand": 1, "heat_number": "H1", "place": "rack 1", "price": 100},
            {"number": "B-02", "length": "300 mm", "on_hand": 1, "heat_number": "H2", "remnant": True},
        )
    ]


@makes("pick_id")
def the_id_of_a_pick(everybody):
    job = a_planned_job(everybody["lead"])
    a_rack(job.material)
    (choice,) = queries.stock_choices(job, queries.proposal_of(job))
    return actions.take_stock(job, choice.key, by=everybody["lead"])[0].pk


def a_second_job(first, by, **changes):
    """Another part of the same material; its blank is 65 mm long as well."""
    given = {"part_number": "BP-2200", "material": first.material, "quantity": 2}
    job = a_read_job(by, **{**given, **changes})
    actions.propose_plan(job, by=by)
    return job


def a_long_bar(material, **changes):
    """1000 mm: eight blanks of 65 mm leave 459 mm, as 1000 - 5 - 8 × 67 says."""
    given = {"material": material, "shape": "flat bar", "thickness": "20 mm", "width": "50 mm", "length": "1000 mm"}
    return StockBar.objects.create(
        **{**given, "number": "B-09", "on_hand": 1, "heat_number": "H1", "place": "rack 2", "price": 100, **changes}
    )
