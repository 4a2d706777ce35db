"""The demo shop: loaded once for all tests here, as `make run` does it, and taken further as a newcomer would."""

import io
import json
from datetime import timedelta

import pytest
from django.core.management import call_command
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from shopflow.commands.demo import people as demo_people
from shopflow.commands.demo import seed
from shopflow.commands.demo.at_once import work_done_at_once
from shopflow.core.review import Weight
from shopflow.floor import queries as floor
from shopflow.floor.models import SettingUp
from shopflow.jobs import actions as jobs
from shopflow.jobs.models import Job, JobFile, SetUpTaken, Stage, TimeTaken
from shopflow.people.access import may
from shopflow.people.models import User
from shopflow.people.page_access import PAGES
from shopflow.programs import actions as programs
from shopflow.programs import queries as program_queries
from shopflow.programs.setup_export import setup_files
from shopflow.records import protect, work
from shopflow.records.models import LedgerRow
from shopflow.records.proof import verify_all
from shopflow.shop.models import Gauge, Holder, Machine, Material, Tool
from shopflow.workflow import actions as workflow
from shopflow.workflow.gates import gate_of, unmet
from tests.commands.crawling import Walk
from tests.commands.running import run_command


def load():
    said, told = io.StringIO(), io.StringIO()
    call_command("load_demo", stdout=said, stderr=told)
    return said.getvalue(), told.getvalue()


@pytest.fixture(scope="module")
def demo(django_db_setup, django_db_blocker):
    """What loading said, and the shop it left; long work beats from a thread of its own, so nothing is rolled back."""
    with django_db_blocker.unblock():
        try:
            yield load()
        finally:
            with protect.lifted():
                call_command("flush", interactive=False, verbosity=0)


@pytest.fixture
def worker_at_hand():
    with work_done_at_once():
        yield


def job_of(part):
    return Job.objects.filter(revision__part__number=part).earliest("pk")


def newest(job):
    return program_queries.newest(job.programs.get())


def findings(revision):
    return program_queries.Reviewed(program_queries.fresh(revision)).findings


def test_nothing_stops_a_job_of_the_demo_on_its_way(demo):
    assert demo[1] == ""


def test_loading_says_how_to_log_in(demo):
    for line in seed.rows("people.csv"):
        assert line["username"] in demo[0]
        assert line["password"] in demo[0]


@pytest.mark.parametrize("line", seed.rows("people.csv"), ids=lambda line: line["username"])
def test_everybody_of_the_demo_can_log_in(demo, line):
    sent = {"username": line["username"], "password": line["password"]}
    assert Client().post(reverse("people:log_in"), sent).status_code == 302


@pytest.mark.parametrize("line", [x for x in seed.rows("people.csv") if x["badge"]], ids=lambda line: line["username"])
def test_a_badge_of_the_demo_opens_a_station(demo, line):
    sent = {"badge": line["badge"], "pin": line["pin"]}
    assert Client().post(reverse("people:station_log_in"), sent).status_code == 302


@pytest.mark.parametrize(
    ("model", "name"),
    [(Tool, "tools"), (Holder, "holders"), (Machine, "machines"), (Material, "materials"), (Gauge, "gauges")],
)
def test_every_line_of_a_table_is_loaded(demo, model, name):
    assert model.objects.count() == len(seed.rows(f"{name}.csv"))


def test_every_number_of_a_material_says_where_it_comes_from(demo):
    assert not Material.objects.filter(source="").exists()


@pytest.mark.parametrize(("part", "stage"), [("CV-220", "floor"), ("MB-31", "review"), ("BK-104", "plan")])
def test_the_jobs_stand_at_three_stages(demo, part, stage):
    assert job_of(part).stage == stage


def test_the_pieces_on_the_floor_add_up(demo):
    tally = floor.tally(job_of("CV-220"))
    assert (tally["step"], tally["scrapped"], sum(tally.values())) == (11, 1, 12)


def test_the_history_of_the_demo_holds_together(demo):
    assert list(verify_all()) == []


def test_a_second_start_changes_nothing_and_says_nothing(demo):
    rows = LedgerRow.objects.count()
    assert load() == ("", "")
    assert LedgerRow.objects.count() == rows


def test_what_a_user_changed_stays_after_another_start(demo):
    Tool.objects.filter(number=20).update(note="lent to the neighbours")
    load()
    assert Tool.objects.get(number=20).note == "lent to the neighbours"


def test_a_shop_with_people_of_its_own_is_left_alone(db, viewer):
    assert load() == ("", "")
    assert not Tool.objects.exists()
    assert User.objects.count() == 1


def test_the_log_ins_can_be_shown_again(capsys):
    call_command("load_demo", "--show-log-ins")
    assert capsys.readouterr().out.strip() == demo_people.log_ins()


def test_the_review_notices_what_a_generator_got_wrong(demo):
    noticed = {finding.code for finding in findings(newest(job_of("MB-31"))) if finding.is_must_fix}
    assert noticed == {"plunge-too-deep", "no-stop"}


def test_the_programs_that_run_have_no_finding_that_must_be_mended(demo):
    for program in job_of("CV-220").programs.all():
        assert [f.code for f in findings(program_queries.newest(program)) if f.is_must_fix] == []


@pytest.fixture
def reviewed(demo, worker_at_hand):
    """What is left for the worker, done: it asks for further work itself."""
    while work.sweep():
        pass


def of_order(order):
    return Job.objects.get(order_number=order)


GENERATED = [
    ("QR-1150", "O3101", {"plunge-too-deep", "no-stop"}),
    ("VP-30902", "O2203", {"rapid-through-material", "gouge"}),
    ("AI-7790", "O1043", {"rpm-over-machine", "length-offset-of-another", "gouge"}),
]


@pytest.mark.parametrize(("order", "name", "codes"), GENERATED, ids=[name for _order, name, _codes in GENERATED])
def test_three_programs_hold_the_faults_of_a_generator_each_with_its_finding(reviewed, order, name, codes):
    revision = program_queries.newest(of_order(order).programs.get(name=name))
    assert codes <= {finding.code for finding in findings(revision) if finding.weight != Weight.NOTE}


def test_the_jobs_whose_programs_came_from_a_generator_wait_at_the_review(demo):
    assert {of_order(order).stage for order, _name, _codes in GENERATED} == {Stage.REVIEW}


def test_a_lot_that_ran_before_holds_what_pieces_took(demo):
    rows = TimeTaken.objects.filter(step__job=of_order("VP-30655"), step__setup__isnull=False)
    taken = {row.step.op_number: float(row.actual) for row in rows}
    assert taken == {20: pytest.approx(10.5, abs=1.0), 30: pytest.approx(5.5, abs=1.0)}


def test_a_lot_that_ran_before_says_how_long_one_of_its_set_ups_took(demo):
    """From the press at the station to the start: over midnight, by the hour of loading, it corrects nothing."""
    begun = SettingUp.objects.get(lot__job=of_order("VP-30655"))
    is_one_day = timezone.localdate(begun.begun_at) == timezone.localdate(begun.run.started_at)
    taken = [float(row.actual) for row in SetUpTaken.objects.filter(step=begun.step)]
    assert begun.run.started_at - begun.begun_at == timedelta(minutes=34)
    assert taken == ([34.0] if is_one_day else [])


def test_a_lot_that_ran_unchanged_proves_its_programs_and_offers_them_to_the_next_order(demo):
    (offer,) = program_queries.offers(of_order("VP-30902"))
    assert (offer.revision.program.name, offer.proven.job) == ("O2202", of_order("VP-30655").number)


def test_a_newcomer_can_take_the_manifold_to_the_floor(demo, worker_at_hand):
    """The way of shopflow/docs/first-five-minutes.md, by the actions behind its pages."""
    lead, reviewer = User.objects.get(username="odile"), User.objects.get(username="ines")
    job = job_of("MB-31")
    first = newest(job)
    seen = program_queries.Reviewed(first)
    programs.take_edits(first, [edit["id"] for edit in seen.edits], by=lead)
    mended = newest(job)
    left = [finding for finding in findings(mended) if finding.is_open]
    assert {finding.code for finding in left} == {"carbide-drill-dry", "carbide-full-retract"}
    keys = [finding.key for finding in left]
    programs.decide(mended, keys, by=lead, verdict="accept", reason="flood reaches it from both sides")
    password = demo_people.password_of(reviewer)
    programs.sign_off(mended, by=reviewer, password=password, printed_name="Ines Farrowgate", meaning="read")
    job = workflow.advance(job, by=lead)
    job = jobs.receive_material(job, by=lead, heat_number="")
    workflow.print_packet(job, by=lead)
    assert unmet(gate_of(Job.objects.get(pk=job.pk))) == []
    assert workflow.advance(job, by=lead).stage == Stage.FLOOR


def test_the_mended_program_needs_nothing_further(demo, worker_at_hand):
    """What the proposals make of the program is what a programmer would have written: reviewed clean as well."""
    lead = User.objects.get(username="odile")
    job = job_of("BK-104")
    setups = list(job.setups.all())
    data = seed.path("programs/BK-104-1.nc").read_bytes()
    revision = programs.upload(job, data, by=lead, name="O1041", setups=setups[:1])
    assert [finding.message for finding in findings(revision) if finding.is_must_fix] == []


def test_a_program_as_generated_has_its_faults_found_before_it_is_loaded(demo, worker_at_hand):
    """A speed over the spindle, another tool's length, a wall cut 0.2 mm too far: at the lines where they stand."""
    lead, job = User.objects.get(username="odile"), job_of("BK-104")
    data = seed.path("programs/BK-104-1-as-generated.nc").read_bytes()
    revision = programs.upload(job, data, by=lead, name="O1043", setups=list(job.setups.all())[:1])
    found = {(finding.code, data.splitlines()[finding.first_line - 1].decode()) for finding in findings(revision)}
    assert ("rpm-over-machine", "G54 G0 X-20. Y0. S16000 M3") in found
    assert ("length-offset-of-another", "G81 G99 X28. Y18. Z-3. R2. F400.") in found
    if program_queries.Reviewed(program_queries.fresh(revision)).lacking is None:
        assert "gouge" in {code for code, _ in found}


def test_a_generated_program_is_reviewed_as_well_without_the_shop(demo, tmp_path):
    """A rapid through the bore's wall, spots deeper than their holes are wide, coolant forgotten."""
    revision = program_queries.newest(job_of("CV-220").programs.get(name="O2201"))
    for name, data in setup_files(revision).items():
        (tmp_path / name).write_bytes(data)
    done = run_command(
        "review_program", seed.path("programs/CV-220-1-as-generated.nc"), "--setup", tmp_path / "SETUP.toml", "--json"
    )
    found = {(one["code"], one["weight"]) for one in json.loads(done.stdout)["findings"]}
    assert done.returncode == 1
    assert {("rapid-through-material", "must-fix"), ("gouge", "must-fix"), ("cuts-dry", "decide")} <= found


def test_what_an_earlier_program_leaves_is_where_a_setup_file_begins(demo, tmp_path):
    """As the shop's own review has it: what setup 2 takes away of what setup 1 left."""
    revision = program_queries.newest(job_of("CV-220").programs.get(name="O2202"))
    for name, data in setup_files(revision).items():
        (tmp_path / name).write_bytes(data)
    done = run_command("review_program", tmp_path / "O2202.nc", "--setup", tmp_path / "SETUP.toml", "--json")
    (setup,) = program_queries.Reviewed(program_queries.fresh(revision)).removal["setups"]
    assert done.returncode == 0
    assert json.loads(done.stdout)["removed_mm3"] == pytest.approx(setup["removed_mm3"], rel=0.01)
    assert {one["code"] for one in json.loads(done.stdout)["findings"]} == {"air-cut"}


def test_every_model_of_the_demo_was_read(demo):
    assert JobFile.objects.filter(kind="model").count() == Job.objects.count()
    assert all(job.reading.state == "done" for job in Job.objects.select_related("reading"))


def walk(username, share, **how):
    return Walk(User.objects.get(username=username), share, **how).go()


def names(walked):
    return {name for name, opened in walked.opened.items() if opened}


ALL = 10_000
NO_LINK_LEADS_THERE = {
    # before there is a session, or asked for by a browser, a script or a code on a paper
    "people:log_in", "people:station_log_in", "floor:scan", "papers:scan", "papers:scan_traveler", "workflow:strip",
    "programs:stock_stretch",
    # while a worker works
    "programs:work", "programs:removal", "papers:work", "papers:paper_work", "floor:read_back_work",
    "jobs:model",
    # of what the demo has not come to: a paper printed, a closed day, a photo, a tool on order, a model that changed
    "papers:paper", "shop:closed_days_row", "shop:control_change", "floor:as_run_photo", "jobs:order_tool",
    "jobs:crib_tool", "jobs:receive_tool", "jobs:changes", "jobs:model_mesh", "inspection:lot", "inspection:sampling",
    "programs:zero", "programs:difference", "programs:sign_off", "programs:sign_off_all",
}  # fmt: skip


@pytest.fixture(scope="module")
def walked(demo, django_db_blocker):
    """The lead's walk, at the state that the demo is left in by the tests above."""
    return walk("odile", 2)


def test_pages_of_every_kind_that_the_lead_comes_to_open_and_have_no_slip(walked):
    assert walked.problems == []


def test_links_lead_to_every_page_that_the_demo_has_something_for(walked):
    asked = {name for name, page in PAGES.items() if page.see and may(walked.person, page.see)}
    assert asked - names(walked) - NO_LINK_LEADS_THERE == set()


OTHERS = ["tomasz", "ines", "ruben", "yuki", "walter"]
"""At the desk; those who also stand at a station are walked there, and at the desk in the long runs."""
WITH_BADGE = ["ruben", "yuki"]


@pytest.mark.parametrize("username", ["ines", "walter"])
def test_some_of_each_page_that_a_person_comes_to_open_and_have_no_slip(demo, django_db_blocker, username):
    assert walk(username, 1).problems == []


@pytest.mark.parametrize("username", WITH_BADGE)
def test_some_of_each_page_at_a_station_open_and_have_no_slip(demo, django_db_blocker, username):
    assert walk(username, 1, by_badge=True).problems == []


@pytest.mark.soak
@pytest.mark.parametrize("username", ["odile", *OTHERS])
def test_every_page_that_a_person_comes_to_opens_and_has_no_slip(demo, django_db_blocker, username):
    assert walk(username, ALL).problems == []


@pytest.mark.soak
@pytest.mark.parametrize("username", WITH_BADGE)
def test_every_page_at_a_station_opens_and_has_no_slip(demo, django_db_blocker, username):
    assert walk(username, ALL, by_badge=True).problems == []
