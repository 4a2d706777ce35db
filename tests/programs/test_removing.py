"""Material removal of a planned program: computed in place as a worker would,."""

import math
from decimal import Decimal

import pytest

from shopflow.core.planning.directions import AXES
from shopflow.core.stock import checkpoints, shapes
from shopflow.core.stock.blanks import PLAIN, BlankForm
from shopflow.core.stock.compare_plan import OtherSetups
from shopflow.core.stock.grid import grid_over
from shopflow.core.stock.holding import Solid
from shopflow.core.stock.removal import remove
from shopflow.core.stock.shapes import Hole
from shopflow.core.types import Placement, Tool, ToolShape
from shopflow.programs import queries, simulating, stock_asked, stretches
from shopflow.programs.inputs import inputs_of
from shopflow.programs.shop_state import digest_of_shop
from shopflow.programs.simulating import Asked, Place
from shopflow.programs.stock_asked import asked_of
from shopflow.records import cache
from tests.core.planning.parts import a_reading
from tests.core.stock.plain_meshes import box_mesh
from tests.jobs.objects import read_now
from tests.programs.objects import END, GOOD, HEAD, a_planned_job, upload
from tests.programs.objects import MILL as SLOT_BY_T1

MILL = Tool(1, "", ToolShape.FLAT, 10.0, flute_length_mm=22.0, stickout_mm=35.0)
READING, MODEL = a_reading(holes=(), mesh_deflection_mm=0.01), "0" * 64
BLANK = ((-20.0, -20.0, -20.0), (60.0, 20.0, 0.0))
SLOT = (
    "T1 M6\nG54 G0 X-40. Y0. S4000 M3\nG43 H1 Z50. M8\nZ5.\nG1 Z-2. F200.\nX80. F600.\n"
    "G0 Z50. M9\nM5\nG53 G0 Z0.\nM30\n%\n"
)


def keep_model(top):
    """In the cache, a part like the blank but that much lower."""
    cache.write(MODEL, box_mesh((BLANK[0], (*BLANK[1][:2], top))).to_bytes())


def simulated(text, *, before=(), limits=None, blank=None, smallest=None, holding=(), form=PLAIN):
    from shopflow.core.cutting.time import TYPICAL_MACHINE

    place = Place(1, 1, Placement(), blank or BLANK, smallest or blank or BLANK, holding=holding, form=form)
    asked = Asked("0" * 64, MODEL, "1" * 64, "", TYPICAL_MACHINE, (MILL,), (place,), limits or {})
    assert simulating.asked_from(asked.plain) == asked
    data = (HEAD + text).encode()
    return simulating.simulate(asked, data, before, reading=READING, key="f" * 64, progress=lambda *_: None)


def codes(result):
    return [(row["weight"], row["code"], row["first_line"]) for row in result["findings"]]


def test_a_slot_takes_away_its_width_times_its_depth_times_the_length_of_the_block(settings, tmp_path):
    settings.CACHE_DIR = tmp_path
    removed = simulated(SLOT)["setups"][0]["removed_mm3"]
    assert removed == pytest.approx(10.0 * 2.0 * 80.0, rel=0.005)


def test_a_rapid_through_the_block_is_a_must_fix_at_its_line(settings, tmp_path):
    settings.CACHE_DIR = tmp_path
    through = SLOT.replace("X80. F600.\n", "X80. F600.\nG0 Y10.\nX-40.\n")
    assert ("must-fix", "rapid-through-material", 11) in codes(simulated(through))


def test_the_clean_slot_has_no_must_fix(settings, tmp_path):
    settings.CACHE_DIR = tmp_path
    assert not [row for row in codes(simulated(SLOT)) if row[0] == "must-fix"]


PASS = "G0 X-40. Y0.\nZ5.\nG1 Z-2. F200.\nX80. F600.\nG0 Z50.\n"


def test_a_pass_that_cuts_nothing_is_proposed_to_go_with_its_way_in_and_out(settings, tmp_path):
    settings.CACHE_DIR = tmp_path
    passes = "T1 M6\nG54 S4000 M3\nG43 H1 Z50. M8\n" + PASS + PASS + PASS.replace("Y0.", "Y8.") + "M9\nM5\nM30\n%\n"
    (edit,) = simulated(passes)["edits"]
    assert (edit["kind"], edit["line"], edit["value"]) == ("remove", 12, "16")
    assert edit["saying"] == "Lines 12 to 16 are taken out. Line 17 then moves from where line 11 ends."
    assert edit["seconds"] < -12


def test_a_pass_whose_end_the_program_goes_on_from_is_not_proposed_to_go(settings, tmp_path):
    settings.CACHE_DIR = tmp_path
    result = simulated(SLOT.replace("X80. F600.\n", "X80. F600.\nX-40.\n"))
    assert "air-cut" in [code for _, code, _ in codes(result)]
    assert result["edits"] == []


def test_what_the_setup_before_left_is_what_is_cut(settings, tmp_path):
    settings.CACHE_DIR = tmp_path
    low = shapes.box(grid_over(BLANK, 0.4), (BLANK[0], (60.0, 20.0, -2.5)))
    assert simulated(SLOT, before=(low,))["setups"][0]["removed_mm3"] == 0.0


def test_a_job_without_a_model_is_signed_as_before_and_says_why_nothing_was_removed(job, owner, client):
    revision = upload(job, by=owner)
    client.force_login(owner)
    page = client.get(revision.get_absolute_url()).content.decode()
    assert "Material removal was not computed" in page
    assert "No model was uploaded." in page
    assert not queries.blocking(revision)


def test_a_newer_removal_is_asked_for_by_itself(monkeypatch, db):
    before = digest_of_shop()
    monkeypatch.setattr(simulating, "VERSION", "removal of tomorrow")
    assert digest_of_shop() != before


def of_code(result, code):
    return [row for row in result["findings"] if row["code"] == code]


def test_a_cut_into_the_part_is_a_must_fix_at_its_line_with_the_depth(settings, tmp_path):
    settings.CACHE_DIR = tmp_path
    keep_model(-1.0)
    (gouge,) = of_code(simulated(SLOT), "gouge")
    assert (gouge["weight"], gouge["first_line"], gouge["measured"], gouge["limit"]) == ("must-fix", 9, "1", "0.05")


def test_stock_that_nothing_removes_is_asked_about_with_its_thickness(settings, tmp_path):
    settings.CACHE_DIR = tmp_path
    keep_model(-3.0)
    assert "3" in {row["measured"] for row in of_code(simulated(SLOT), "stock-left")}


def test_the_shop_sets_how_much_stock_may_be_left(settings, tmp_path):
    settings.CACHE_DIR = tmp_path
    keep_model(-3.0)
    assert not of_code(simulated(SLOT, limits={"stock_left_decide": Decimal(4)}), "stock-left")


def test_each_setup_says_what_the_comparison_showed(settings, tmp_path):
    settings.CACHE_DIR = tmp_path
    keep_model(-1.0)
    (setup,) = simulated(SLOT)["setups"]
    assert (setup["gouge_mm"], setup["stock_left_mm"], setup["not_compared"]) == (1.0, 1.0, "")


def test_without_the_mesh_of_the_model_the_setup_says_that_it_was_not_compared(settings, tmp_path):
    settings.CACHE_DIR = tmp_path
    (setup,) = simulated(SLOT)["setups"]
    assert "Open the job's model" in setup["not_compared"]


def test_a_program_that_moves_nothing_in_the_setups_offset_is_not_compared(settings, tmp_path):
    settings.CACHE_DIR = tmp_path
    keep_model(-1.0)
    (setup,) = simulated(SLOT.replace("G54", "G55"))["setups"]
    assert "G54" in setup["not_compared"]


OVER = SLOT.replace("X80. F600.\n", "X80. F600.\nG0 Z{height}\nX-40. Y14.\n")


@pytest.mark.parametrize(("height", "near"), [("1.4", ["1.4"]), ("1.6", [])])
def test_a_rapid_over_stock_as_it_came_keeps_the_distance_of_its_house_rule(settings, tmp_path, height, near):
    settings.CACHE_DIR = tmp_path
    found = of_code(simulated(OVER.format(height=height)), "rapid-too-near")
    assert [(row["measured"], row["limit"]) for row in found] == [(gap, "1.5") for gap in near]


def test_the_shop_sets_how_near_a_rapid_may_come(settings, tmp_path):
    settings.CACHE_DIR = tmp_path
    wider = {"rapid_clearance_raw": Decimal(3)}
    assert of_code(simulated(OVER.format(height="2"), limits=wider), "rapid-too-near")


def strip(radius):
    """Area of a circle within 5 mm of a line through its middle."""
    return 2.0 * (radius**2 * math.asin(5.0 / radius) + 5.0 * math.sqrt(radius**2 - 25.0))


@pytest.mark.parametrize(
    ("form", "removed"),
    [
        (BlankForm(0), 80.0 * (strip(10.0) / 2.0 - 10.0 * 8.0)),  # its top line lies at Z0, the slot's floor 2 under it
        (BlankForm(2), 2.0 * strip(20.0)),
        (BlankForm(holes=(Hole(2, (20.0, 0.0), 16.0),)), 2.0 * (10.0 * 80.0 - strip(8.0))),
    ],
    ids=["a round along X", "a round along Z", "a plate with a hole"],
)
def test_a_slot_takes_what_a_blank_that_is_no_plain_box_has_there(settings, tmp_path, form, removed):
    settings.CACHE_DIR = tmp_path
    assert simulated(SLOT, form=form)["setups"][0]["removed_mm3"] == pytest.approx(removed, rel=0.01)


UP, DOWN = AXES["+Z"], AXES["-Z"]


def a_box(top):
    """Over the middle of the slot."""
    return (Solid("clamp", ((10.0, -4.0, -5.0), (20.0, 4.0, top))),)


def test_a_cut_into_a_clamp_is_a_must_fix_that_names_it(settings, tmp_path):
    settings.CACHE_DIR = tmp_path
    (touch,) = of_code(simulated(SLOT, holding=a_box(3.0)), "workholding-touched")
    assert touch["weight"] == "must-fix" and touch["first_line"] == 9 and "into the clamp" in touch["message"]


def test_a_clamp_under_the_cut_is_not_touched(settings, tmp_path):
    settings.CACHE_DIR = tmp_path
    assert not of_code(simulated(SLOT, holding=a_box(-2.5)), "workholding-touched")


def test_a_rapid_near_a_clamp_is_asked_about(settings, tmp_path):
    settings.CACHE_DIR = tmp_path
    over = SLOT.replace("X80. F600.\n", "X80. F600.\nG0 Z3.5\nX-40.\n")
    low = a_box(2.9)
    near = [row["measured"] for row in of_code(simulated(over, holding=low), "rapid-too-near")]
    assert near == ["0.6"]


SMALL = (BLANK[0], (60.0, 20.0, -1.5))


def test_a_pass_that_cuts_only_the_largest_blank_is_no_air_cut(settings, tmp_path):
    settings.CACHE_DIR = tmp_path
    skim = SLOT.replace("G1 Z-2. F200.\nX80. F600.", "G1 Z-1. F200.\nX80. F60.")
    assert not of_code(simulated(skim, smallest=SMALL), "air-cut")
    assert of_code(simulated(skim, blank=SMALL), "air-cut")


def test_the_program_after_starts_from_what_is_left_of_the_largest_and_of_the_smallest_blank(settings, tmp_path):
    settings.CACHE_DIR = tmp_path
    simulated(SLOT, smallest=SMALL)
    largest, smallest = left = simulating.states_left("f" * 64)
    assert largest.volumes()[2] - smallest.volumes()[2] == pytest.approx(
        80.0 * 30.0 * 1.5, rel=0.02
    )  # beside the slot of 10 mm
    skim = SLOT.replace("Y0.", "Y12.").replace("G1 Z-2. F200.\nX80. F600.", "G1 Z-1. F200.\nX80. F60.")
    assert not of_code(simulated(skim, before=left), "air-cut")
    assert of_code(simulated(skim, before=(smallest,)), "air-cut")


def test_an_air_cut_says_how_far_the_part_would_differ_without_it(settings, tmp_path):
    """4 mm at 200 mm/min and 120 mm at 60: 121.2 s."""
    settings.CACHE_DIR = tmp_path
    over = SLOT.replace("G1 Z-2. F200.\nX80. F600.", "G1 Z1. F200.\nX80. F60.")
    (air,) = of_code(simulated(over), "air-cut")
    assert "would differ by 0.000 mm" in air["message"] and air["measured"] == "121.2"


def test_a_blank_that_is_too_small_for_the_part_is_asked_about_with_what_it_lacks(settings, tmp_path):
    settings.CACHE_DIR = tmp_path
    keep_model(-1.0)
    (short,) = of_code(simulated(SLOT.replace("Z-2.", "Z2."), smallest=SMALL), "blank-short")
    assert (short["weight"], short["measured"]) == ("decide", "0.5")


def test_the_smallest_blank_that_still_holds_the_part_is_no_finding(settings, tmp_path):
    settings.CACHE_DIR = tmp_path
    keep_model(-2.0)
    assert not of_code(simulated(SLOT, smallest=SMALL), "blank-short")


def test_what_a_beginning_kept_gives_the_same_result_as_running_it_again(settings, tmp_path, monkeypatch):
    settings.CACHE_DIR = tmp_path
    keep_model(-1.0)
    whole = simulated(SLOT)
    monkeypatch.setattr(stretches, "EVERY", 3)
    assert simulated(SLOT) == whole  # keeps its stretches
    assert simulated(SLOT) == whole  # takes them up


def test_a_change_late_in_a_program_runs_only_its_end(settings, tmp_path, monkeypatch):
    settings.CACHE_DIR = tmp_path
    monkeypatch.setattr(stretches, "EVERY", 3)
    simulated(SLOT)
    ran = []
    monkeypatch.setattr(
        checkpoints, "remove", lambda *given, **more: ran.append(more["begin"]) or remove(*given, **more)
    )
    simulated(SLOT.replace("G0 Z50. M9", "G0 Z40. M9"))
    assert ran and min(ran) >= 3


def test_a_picture_from_kept_stretches_is_the_same_as_a_new_one(settings, tmp_path, monkeypatch):
    settings.CACHE_DIR = tmp_path
    monkeypatch.setattr(stretches, "EVERY", 3)
    first, again = (simulated(SLOT) and cache.read(simulating.picture_key("f" * 64, 1)) for _ in range(2))
    assert first == again


class TestWhatOtherSetupsCut:
    @pytest.fixture
    def job(self, owner):
        job = a_planned_job(owner, setups=3)
        job.setups.filter(number=2).update(up="-Z", along_x="+X")
        job.setups.filter(number=3).update(up="+X", along_x="+Y")
        return read_now(job, owner)

    def others(self, revision):
        return {place.number: place.others for place in asked_of(revision).places}

    def test_of_one_program_each_setup_knows_those_before_it(self, job, owner):
        revision = upload(job, GOOD, by=owner)
        assert self.others(revision)[2] == OtherSetups(later=(AXES["+X"],), known=(UP,))

    def test_a_setup_whose_program_is_missing_is_not_known(self, job, owner):
        revision = upload(job, GOOD, by=owner, setups=[job.setups.get(number=2)])
        assert self.others(revision)[2] == OtherSetups(later=(AXES["+X"],), unknown=(UP,))

    def test_what_the_programs_before_left_is_known_through_all_of_them(self, job, owner):
        for number in (1, 2, 3):
            revision = upload(job, GOOD, by=owner, name=f"100{number}", setups=[job.setups.get(number=number)])
        assert self.others(revision)[3] == OtherSetups(known=(UP, DOWN))

    def test_a_manual_op_is_never_known(self, job, owner):
        job.setups.filter(number=1).update(manual_reason="by hand")
        revision = upload(job, GOOD, by=owner, setups=list(job.setups.filter(number__gt=1)))
        assert self.others(revision)[3] == OtherSetups(known=(DOWN,), unknown=(UP,))

    def test_where_two_programs_run_one_setup_neither_knows_the_other(self, job, owner):
        upload(job, GOOD, by=owner, name="1001", setups=[job.setups.get(number=1)])
        finishing = (HEAD + SLOT_BY_T1.replace("Z-2.", "Z-3.") + END).encode()
        revision = upload(job, finishing, by=owner, name="1002", setups=[job.setups.get(number=1)])
        assert UP in self.others(revision)[1].unknown


def test_a_program_of_no_known_tool_is_sent_to_the_crib(job, owner, client):
    revision = upload(job, b"%\nO1\nG21 G90 G54\nG0 X1.\nM30\n%\n", by=owner)
    lacking = stock_asked._lacking(list(job.setups.all()), inputs_of(revision))
    client.force_login(owner)
    assert client.get(lacking.mend_url).status_code == 200
