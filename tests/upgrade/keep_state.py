"""Keep the database of this version, with data in it, for the test of upgrades: python -m tests.upgrade.keep_state NAME

It makes a shop of its own in a folder that goes again: the demo, and more kinds of rows on top. To be run at a release,
before the tag is set; the file goes into the repository (see DEVELOPERS.md).
"""

import os
import sys
import tempfile
from datetime import date


def work_on(job_model, user_model):
    """Bring pieces of the demo's job through all ops, measure, hold and ship some; open two more jobs."""
    from django.core.files.uploadedfile import SimpleUploadedFile

    from shopflow.floor import actions as floor
    from shopflow.inspection import actions as inspection
    from shopflow.inspection.models import Disposition, Nonconformance
    from shopflow.jobs import actions as jobs
    from shopflow.jobs.models import JobFile
    from shopflow.records import files, ledger
    from shopflow.shop import actions as shop
    from shopflow.shop.models import ControlProfile
    from shopflow.workflow import actions as workflow

    people = {user.username: user for user in user_model.objects.all()}
    lead, machinist, inspector = people["odile"], people["ruben"], people["yuki"]
    job = job_model.objects.get(revision__part__number="CV-220")
    lot, steps = job.lots.get(), {step.op_number: step for step in job.steps.all()}

    floor.hold(lot, steps[20], 1, reason="a dent on the top face", by=machinist)
    run = floor.start(
        lot, steps[30], by=machinist, machine=steps[30].setup.machine, compared="hash at the screen",
        confirmed=list(floor.SETUP_CHECKS),
    )  # fmt: skip
    floor.accept_first_piece(run, by=machinist, note="12.03 thick")
    floor.count_good(run, 4, by=machinist)
    run = floor.start(lot, steps[40], by=machinist)
    floor.sign_edges(run, by=machinist, exceptions="bore left sharp as drawn")
    floor.count_good(run, 3, by=machinist)
    for number, typed in ((1, "40.012 mm"), (2, "0.473 in"), (3, "100.4")):
        characteristic = job.characteristics.get(number=number)
        inspection.measure(characteristic, lot, 1, typed, by=inspector)
    inspection.raise_nonconformance(lot, text="a scratch beside the bore", by=inspector, piece=2)
    for found in Nonconformance.objects.filter(lot=lot):
        inspection.dispose(found, Disposition.Verdict.values[0], reason="outside the seal", by=lead)
    inspection.pass_pieces(lot, steps[50], 2, by=inspector)
    floor.ship(lot, 1, by=lead, note="one ahead, by hand")
    floor.note(lot, steps[20], "the blue bin holds the counted ones", by=machinist)
    floor.split(lot, steps[20], 1, by=machinist)

    manifold = job_model.objects.get(revision__part__number="MB-31")
    workflow.hold(manifold, reason="waits for the customer's port sizes", by=lead)
    sample = jobs.OrderLine(
        customer="Velmora Pumps", part_number="VP-SAMPLE", part_name="spacer", revision="–", order_number="VP-30901",
        order_line="1", quantity=2, due_on=date(2030, 1, 31), material=None, material_note="as the sample", notes="",
        governing="", no_model_reason="a sample lies in drawer 4",
    )  # fmt: skip
    jobs.ask_question(jobs.take_in(sample, by=lead), by=lead, text="Which finish?")
    shop.change_house_rule("plan_grip", text="5 mm", reason="the new jaws are higher", by=lead)
    ControlProfile.objects.create(name="own", title="Our own", based_on="plain", changes={"macros": True})
    wrong = jobs.add_file(manifold, SimpleUploadedFile("wrong.txt", b"not ours"), by=lead, kind=JobFile.Kind.OTHER)
    files.withdraw(wrong.stored, by=lead, reason="another customer's")
    ledger.chain_heads()


def main(name):
    folder = tempfile.TemporaryDirectory(prefix="shopflow-state-")
    os.environ |= {"SHOPFLOW_DATA": folder.name, "DJANGO_SETTINGS_MODULE": "shopflow.settings"}
    os.environ.pop("DATABASE_URL", None)
    import django
    from django.core.management import call_command

    django.setup()
    from shopflow.commands.demo.at_once import work_done_at_once
    from shopflow.jobs.models import Job
    from shopflow.people.models import User
    from tests.upgrade import kept

    call_command("migrate", verbosity=0)
    call_command("load_demo")
    with work_done_at_once():
        work_on(Job, User)
    path = kept.keep(name)
    sys.stdout.write(f"{path}: {path.stat().st_size} bytes\n")


if __name__ == "__main__":
    main(*sys.argv[1:])
