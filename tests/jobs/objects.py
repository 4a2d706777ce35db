"""Jobs for tests, made by the app's own actions."""

import datetime as dt
from pathlib import Path

from django.core.files.uploadedfile import SimpleUploadedFile

from shopflow.jobs import actions
from shopflow.jobs.actions import OrderLine
from shopflow.jobs.models import JobFile
from shopflow.shop.models import Material
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
