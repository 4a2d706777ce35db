"""Each thing that a sign-off binds, changed once, and each thing that it does not bind, changed once (design 4.3)."""

import datetime as dt

import pytest
from django.db import transaction

from shopflow.jobs.models import JobFile, Setup, Touch
from shopflow.programs import actions, queries
from shopflow.programs.models import ProgramRevision, Review
from shopflow.records import files, ledger
from shopflow.shop.models import ControlProfile, Holder, HouseRule, Machine, Material, Tool
from tests.people_fixtures import PASSWORD, make_person
from tests.programs.objects import (
    GOOD,
    a_machine,
    a_planned_job,
    a_program,
    accept,
    again,
    everyone_at_once,
    review,
    sign,
    upload,
)


@pytest.fixture(scope="module")
def made_once(django_db_setup, django_db_blocker):
    """A signed program whose one decision, on a drill that plunges 3.3 times its diameter, was accepted.

    Made once for all these tests; what each of them changes is rolled back to it.
    """
    with django_db_blocker.unblock(), transaction.atomic():
        owner = everyone_at_once(make_person("the_owner", password=PASSWORD))
        revision = upload(a_planned_job(owner), a_program(depth=15), by=owner)
        accept(revision, by=owner)
        sign(revision, by=owner, password=PASSWORD)
        yield revision.pk
        transaction.set_rollback(True)


@pytest.fixture
def signed(made_once, db):
    return ProgramRevision.objects.get(pk=made_once)


@pytest.fixture
def job(signed):
    return signed.program.job


@pytest.fixture
def owner(signed):
    return signed.uploaded_by


def change(model, **fields):
    def act(job, owner):
        row = model.objects.order_by("pk").first()
        for name, value in fields.items():
            setattr(row, name, value)
        row.save()

    return act


def a_model_came(job, owner):
    stored = files.store(b"ISO-10303-21; another model", media_type="model/step")
    JobFile.objects.create(job=job, kind="model", stored=stored, name="part.step", uploaded_by=owner)


def a_solid_was_chosen(job, owner):
    a_model_came(job, owner)
    job.solid_index = 3
    job.save()


def another_material(job, owner):
    job.material = Material.objects.create(name="steel", group="low carbon steel", density=7850)
    job.save()


def a_holder_of_its_own(job, owner):
    Tool.objects.filter(number=1).update(holder=Holder.objects.create(name="long", profile=[[0, 20], [120, 20]]))


def another_profile(job, owner):
    ControlProfile.objects.create(name="own", title="own", based_on="calculator", changes={"sequence_digits": 7})
    Machine.objects.update(control="own")


def the_blank_is_a_model(job, owner):
    stored = files.store(b"ISO-10303-21; a casting", media_type="model/step")
    made = JobFile.objects.create(job=job, kind="blank", stored=stored, name="casting.step", uploaded_by=owner)
    Setup.objects.update(blank_file=made)


UNJUDGED = {
    "model": a_model_came,
    "solid of the model": a_solid_was_chosen,
    "blank X": change(Setup, blank_x="101 mm"),
    "blank Y": change(Setup, blank_y="61 mm"),
    "blank Z": change(Setup, blank_z="26 mm"),
    "part zero": change(Setup, zero_point="top, front right corner"),
    "part zero X": change(Setup, zero_x="0.01 mm"),
    "part zero Y": change(Setup, zero_y="1/2 in"),
    "part zero Z": change(Setup, zero_z="-1 mm"),
    "direction along X": change(Setup, along_x="+Y"),
    "angle": change(Setup, turn_z=30),
    "blank over the part": change(Setup, blank_over="2 mm"),
    "work offset": change(Setup, work_offset=2),
    "side up": change(Setup, up="-Z"),
    "workholding": change(Setup, workholding="clamps"),
    "grip": change(Setup, grip="4 mm"),
    "held by": change(Setup, held_by="clamps"),
    "jaws": change(Setup, held_by="vise", jaws_along="Y", jaw_length="150 mm", jaw_thick="20 mm"),
    "parallels": change(Setup, held_by="vise", parallel_height="30 mm", parallel_thick="5 mm"),
    "bed of the vise": change(Setup, held_by="vise", bed_height="80 mm"),
    "boxes": change(Setup, held_by="clamps", solids="clamp: 0 0 0, 1 1 1"),
    "blank is round": change(Setup, blank_round="Z"),
    "blank is a model": the_blank_is_a_model,
    "blank has holes": change(Setup, blank_holes="Z 5 5 3"),
    "blanks differ in X": change(Setup, vary_x="1 mm"),
    "blanks differ in Y": change(Setup, vary_y="1 mm"),
    "blanks differ in Z": change(Setup, vary_z="1 mm"),
    "material": another_material,
    "density": change(Material, density=2800),
    "unit power": change(Material, unit_power="0.03"),
    "tool diameter": change(Tool, diameter="9.8 mm"),
    "tool shape": change(Tool, shape="ball end mill"),
    "corner radius": change(Tool, corner_radius="0.5 mm"),
    "point angle": change(Tool, point_angle=90),
    "tip diameter": change(Tool, tip_diameter="1 mm"),
    "neck diameter": change(Tool, neck_diameter="9 mm"),
    "shank diameter": change(Tool, shank_diameter="12 mm"),
    "length of cut": change(Tool, flute_length="10 mm"),
    "stickout": change(Tool, stickout="30 mm"),
    "holder's envelope": change(Holder, profile=[[0, 63], [60, 63]]),
    "holder": a_holder_of_its_own,
}
"""What no rule can judge: it lapses at once."""

JUDGED = {
    "machine": change(Machine, name="another mill"),
    "travel": change(Machine, travel_x="700 mm"),
    "rapid X": change(Machine, rapid_x=20000),
    "rapid Y": change(Machine, rapid_y=20000),
    "rapid Z": change(Machine, rapid_z=20000),
    "acceleration": change(Machine, acceleration=900),
    "highest feed": change(Machine, max_feed=9000),
    "lowest rpm": change(Machine, min_rpm=60),
    "highest rpm": change(Machine, max_rpm=7000),
    "power": change(Machine, power_kw=5),
    "power by speed": change(Machine, power_curve="1000 5, 8000 5"),
    "tool change": change(Machine, tool_change_s=9),
    "spindle start": change(Machine, spindle_start_s=4),
    "carousel": change(Machine, carousel=30),
    "coolant through the spindle": change(Machine, through_coolant=True),
    "control profile": another_profile,
    "house rule": lambda job, owner: HouseRule.objects.create(key="stop_clearance", value="20"),
}
"""What the review judges by being done again."""

UNBOUND = {
    "tool name": change(Tool, name="renamed"),
    "tool note": change(Tool, note="sharpened"),
    "tools on hand": change(Tool, on_hand=5),
    "life of a tool": change(Tool, life=3, life_used=2),
    "edge of a tool": change(Tool, edge="worn"),
    "holder name": change(Holder, name="renamed"),
    "machine note": change(Machine, note="serviced"),
    "material source": change(Material, source="mill certificate"),
    "material caution": change(Material, caution="fine chips burn"),
    "setup title": change(Setup, title="renamed"),
    "pick-up": change(Setup, pick_up="edge finder"),
    "what picks it up": change(Setup, pick_up_by="probe"),
    "how the zero was typed": change(Setup, zero_x="0.000 in"),
    "stock in": change(Setup, stock_in="from the saw"),
    "due date": lambda job, owner: type(job).objects.update(due_on=dt.date(2032, 1, 1)),
    "quantity": lambda job, owner: type(job).objects.update(quantity=99),
    "notes": lambda job, owner: type(job).objects.update(notes="call first"),
    "heat number": lambda job, owner: type(job).objects.update(heat_number="H77"),
    "a tool that is not called": lambda job, owner: Tool.objects.create(number=9, name="x", diameter="3 mm"),
    "another machine": lambda job, owner: a_machine("somewhere else"),
    "a profile that is not used": lambda job, owner: ControlProfile.objects.create(name="x", based_on="plain"),
    "another job's setup": lambda job, owner: a_planned_job(owner, part_number="other"),
}
"""What means nothing to the cut: no new review, and the sign-off stands."""

READ_NOT_BOUND = {
    "coolant through the tool": change(Tool, through_coolant=True),
    "flutes": change(Tool, flutes=4),
    "pitch": change(Tool, pitch="1 mm"),
    "centre-cutting": change(Tool, centre_cutting=False),
    "the tool's highest rpm, still above the program's": change(Tool, max_rpm=12000),
    "allowed uses": change(Tool, uses=["rough"]),
}
"""What rules may read and no sign-off binds: reviewed again, and it stands as long as nothing new is found."""


def standing_of(revision):
    """As a page would see it: nothing remembered from before the change."""
    return queries.sign_off_standing(ProgramRevision.objects.get(pk=revision.pk))


def names(cases):
    return pytest.mark.parametrize("act", cases.values(), ids=cases.keys())


@names(UNJUDGED)
def test_a_bound_value_that_no_rule_judges_lapses_the_sign_off(signed, job, owner, act):
    act(job, owner)
    assert standing_of(signed).why == "assumption"


@names(JUDGED)
def test_a_bound_value_that_the_review_judges_waits_for_it(signed, job, owner, act):
    act(job, owner)
    standing = standing_of(signed)
    assert (standing.valid, standing.why) == (False, "pending")


@names(JUDGED)
def test_the_sign_off_stands_again_when_the_new_review_finds_nothing_new(signed, job, owner, act):
    act(job, owner)
    actions.note_changes(owner, [job.pk])
    review(signed)
    assert standing_of(signed).valid


@names(UNBOUND)
def test_what_means_nothing_to_the_cut_leaves_the_sign_off_standing(signed, job, owner, act):
    act(job, owner)
    assert standing_of(signed).valid


@names(UNBOUND)
def test_what_means_nothing_to_the_cut_asks_for_no_review(signed, job, owner, act):
    act(job, owner)
    actions.note_changes(owner, [job.pk])
    assert Review.objects.filter(revision=signed).count() == 1


@names(READ_NOT_BOUND)
def test_what_rules_only_read_is_reviewed_again_and_stands(signed, job, owner, act):
    act(job, owner)
    actions.note_changes(owner, [job.pk])
    review(signed)
    assert standing_of(signed).valid


def test_other_bytes_lapse_the_sign_off(signed, owner):
    newer = again(signed, GOOD, by=owner)
    assert queries.sign_off_standing(newer).why == "bytes"


def test_the_signed_bytes_coming_back_stand_signed(signed, owner):
    again(signed, GOOD, by=owner)
    back = upload(signed.program.job, a_program(depth=15), by=owner, program=signed.program)
    assert queries.sign_off_standing(back).valid


def test_a_machine_too_slow_for_the_program_lapses_the_sign_off_and_says_so(signed, job, owner):
    change(Machine, max_rpm=3000)(job, owner)
    actions.note_changes(owner, [job.pk])
    review(signed)
    standing = standing_of(signed)
    assert (standing.why, standing.what) == ("findings", ("rpm-over-machine",))
    assert "3000" in standing.reason


def test_a_finding_that_grows_heavier_lapses_the_sign_off(signed, job, owner):
    HouseRule.objects.create(key="hss_plunge_most", value="3")
    actions.note_changes(owner, [job.pk])
    review(signed)
    assert standing_of(signed).what == ("plunge-too-deep",)


def test_a_finding_further_past_its_limit_lapses_the_sign_off(signed, job, owner):
    HouseRule.objects.create(key="hss_plunge_decide", value="2")
    actions.note_changes(owner, [job.pk])
    review(signed)
    assert standing_of(signed).why == "findings"


def test_a_loosened_rule_leaves_the_sign_off_standing(signed, job, owner):
    HouseRule.objects.create(key="hss_plunge_decide", value="4")
    actions.note_changes(owner, [job.pk])
    review(signed)
    assert standing_of(signed).valid


def test_a_tool_material_changed_under_a_signed_program_is_found_by_the_new_review(job, owner):
    Tool.objects.filter(number=2).update(material="solid carbide")
    revision = upload(job, a_program(depth=15), by=owner, name="other")
    sign(revision, by=owner)
    Tool.objects.filter(number=2).update(material="high-speed steel")
    actions.note_changes(owner, [job.pk])
    review(revision)
    assert queries.sign_off_standing(revision).what == ("plunge-too-deep",)


def test_a_touch_added_to_the_plan_is_found_by_the_new_review(signed, job, owner):
    Touch.objects.create(setup=job.setups.get(), reason="clear the chips")
    actions.note_changes(owner, [job.pk])
    review(signed)
    assert standing_of(signed).what == ("no-stop",)


def test_a_program_that_moves_otherwise_under_another_control_lapses(job, owner):
    moves_by_tenths = GOOD.replace(b"X40.", b"X40")
    revision = upload(job, moves_by_tenths, by=owner, name="other")
    sign(revision, by=owner)
    Machine.objects.update(control="increment")
    actions.note_changes(owner, [job.pk])
    review(revision)
    assert queries.sign_off_standing(revision).why == "motions"


def test_a_value_put_back_makes_the_sign_off_stand_again(signed, job, owner):
    change(Tool, diameter="9.8 mm")(job, owner)
    change(Tool, diameter="10 mm")(job, owner)
    assert standing_of(signed).valid


def test_the_same_length_in_another_unit_changes_nothing(signed, job, owner):
    Tool.objects.filter(number=1).update(flute_length="22.0 mm")
    Setup.objects.update(blank_x="100.00 mm")
    assert standing_of(signed).valid


def test_a_finding_sent_back_after_signing_lapses_the_sign_off(signed, owner):
    keys = [finding.key for finding in queries.findings(signed)]
    actions.decide(signed, keys, by=owner, verdict="send-back", reason="chatters")
    assert standing_of(signed).why == "sent-back"


def test_a_finding_accepted_again_after_being_sent_back_stands(signed, owner):
    keys = [finding.key for finding in queries.findings(signed)]
    actions.decide(signed, keys, by=owner, verdict="send-back", reason="chatters")
    accept(signed, by=owner)
    assert standing_of(signed).valid


def test_a_newer_reviewing_program_leaves_it_standing_until_it_finds_something(signed, job, owner, monkeypatch):
    monkeypatch.setattr("shopflow.programs.reviewing.VERSION", "reader 2, rules 2")
    actions.note_changes(owner, [job.pk])
    assert standing_of(signed).valid


def test_a_newer_reviewing_program_reviews_again_by_itself(signed, monkeypatch):
    monkeypatch.setattr("shopflow.programs.reviewing.VERSION", "reader 2, rules 2")
    actions.review_what_changed()
    assert Review.objects.filter(revision=signed).count() == 2


def test_a_change_of_the_shop_is_followed_once(signed, owner):
    Machine.objects.update(max_rpm=7000)
    assert actions.review_what_changed(by=owner) == 1
    assert actions.review_what_changed(by=owner) == 0


def test_a_lapse_is_written_to_the_ledger_with_what_changed(signed, job, owner):
    change(Tool, diameter="9.8 mm")(job, owner)
    actions.note_changes(owner, [job.pk])
    row = ledger.rows_for(job.chain).get(kind="sign_off_lapsed")
    assert (row.by, row.data["why"], row.data["what"]) == (owner, "assumption", ["tools.1.diameter"])


def test_a_lapse_found_by_a_review_is_written_when_the_review_is_done(signed, job, owner):
    change(Machine, max_rpm=3000)(job, owner)
    actions.note_changes(owner, [job.pk])
    assert not ledger.rows_for(job.chain).filter(kind="sign_off_lapsed").exists()
    review(signed)
    assert ledger.rows_for(job.chain).get(kind="sign_off_lapsed").data["what"] == ["rpm-over-machine"]


def test_a_lapse_is_written_once(signed, job, owner):
    change(Tool, diameter="9.8 mm")(job, owner)
    actions.note_changes(owner, [job.pk])
    actions.note_changes(owner, [job.pk])
    assert ledger.rows_for(job.chain).filter(kind="sign_off_lapsed").count() == 1


def test_standing_again_is_written_to_the_ledger(signed, job, owner):
    change(Tool, diameter="9.8 mm")(job, owner)
    actions.note_changes(owner, [job.pk])
    change(Tool, diameter="10 mm")(job, owner)
    actions.note_changes(owner, [job.pk])
    assert ledger.rows_for(job.chain).filter(kind="sign_off_stands_again").count() == 1


def test_a_new_upload_writes_the_lapse_of_the_signed_one(signed, job, owner):
    again(signed, GOOD, by=owner)
    assert ledger.rows_for(job.chain).get(kind="sign_off_lapsed").data["why"] == "bytes"


def test_a_lapsed_program_can_be_signed_again(signed, job, owner):
    change(Tool, diameter="9.8 mm")(job, owner)
    actions.note_changes(owner, [job.pk])
    review(signed)
    sign(signed, by=owner)
    assert standing_of(signed).valid


def test_an_unsigned_program_is_listed_with_its_reason(signed, job, owner):
    change(Tool, diameter="9.8 mm")(job, owner)
    (row,) = queries.unsigned(job)
    assert "T1 diameter was 10 and is 9.8" in row.reason


def test_a_tool_that_wore_since_ends_no_sign_off_when_something_else_is_reviewed_again(signed, job, owner):
    Tool.objects.update(edge="out", life=1, life_used=1)
    JUDGED["house rule"](job, owner)
    actions.note_changes(owner, [job.pk])
    review(signed)
    found = {one.code for one in queries.found_in(signed.reviews.first().result["findings"])}
    assert "tool-used-up" in found and standing_of(signed).valid
