"""Setups of a plan from a setup file: nothing is written that the person was not shown."""

import pytest
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from shopflow.core.errors import NotPossible
from shopflow.core.planning.placement import blank_box
from shopflow.core.review.setup_file import read_setup_bytes
from shopflow.jobs import actions
from shopflow.jobs.models import Setup
from shopflow.jobs.queries.from_file import FromFile, as_typed_blank
from shopflow.jobs.queries.holding import _grown
from shopflow.records.models import LedgerRow
from tests.jobs.objects import a_crib, a_machine, a_read_job, an_upload

TOOLS = "number,name,shape,diameter_mm\n2,end mill,flat end mill,12\n77,odd one,drill,5\n"
SETUP = """
schema = 1
model = "plate.step"
tools = "tools.csv"
[machine]
name = "small mill"
travel_mm = [760.0, 400.0, 500.0]
rapid_mm_min = [20000.0, 20000.0, 20000.0]
acceleration_mm_s2 = [2000.0, 2000.0, 2000.0]
max_feed_mm_min = 10000.0
min_rpm = 50.0
max_rpm = 10000.0
power_kw = 11.0
[blank]
largest_mm = [[-2.0, -2.0, -5.0], [102.0, 62.0, 21.0]]
[[plan.touch]]
after_setup = 1
reason = "look at the bore, after T2"
[[setup]]
work_offset = "G55"
zero_mm = [0.0, 0.0, 20.0]
tools = [2]
[[setup.workholding]]
name = "fixed jaw"
box_mm = [[-10.0, -30.0, -30.0], [110.0, -2.0, -15.0]]
[[setup]]
work_offset = "G56"
up = "-Z"
zero_mm = [0.0, 0.0, 0.0]
"""


def files(text=SETUP):
    return {"SETUP.toml": text.encode(), "tools.csv": TOOLS.encode()}


@pytest.fixture
def job(programmer):
    a_machine()
    a_crib()
    return a_read_job(programmer)


def beside(job, text=SETUP):
    return FromFile(job, read_setup_bytes(files(text)))


def take(job, programmer, numbers, text=SETUP):
    return actions.take_setups(
        job, read_setup_bytes(files(text)), by=programmer, numbers=numbers, seen=beside(job, text).state
    )


def test_what_the_file_says_is_written_into_new_setups(job, programmer):
    assert take(job, programmer, {1, 2}) == [1, 2]
    first, second = job.setups.all()
    assert (first.work_offset_code, second.work_offset_code, second.up) == ("G55", "G56", "-Z")
    assert [str(one) for one in first.zero] == ["0 mm", "0 mm", "20 mm"]
    assert "fixed jaw: -10 -30 -30, 110 -2 -15" in first.solids and first.held_by == Setup.HeldBy.CLAMPS
    assert [tool.number for tool in first.tools.all()] == [2]
    touch = first.touches.get()
    assert (touch.reason, touch.after_tool.number) == ("look at the bore", 2)


def test_what_was_taken_reads_as_the_same_afterwards(job, programmer):
    take(job, programmer, {1, 2})
    assert [block.is_same for block in beside(job).blocks] == [True, True]


def test_a_setup_that_is_not_ticked_stays_as_it_was(job, programmer):
    take(job, programmer, {1, 2})
    other = SETUP.replace("[0.0, 0.0, 20.0]", "[5.0, 0.0, 20.0]").replace('"G56"', '"G58"')
    assert take(job, programmer, {2}, other) == [2]
    first, second = job.setups.all()
    assert (str(first.zero_x), second.work_offset_code) == ("0 mm", "G58")


def test_what_would_be_overwritten_is_shown_with_what_the_plan_says(job, programmer):
    take(job, programmer, {1, 2})
    block = beside(job, SETUP.replace("[0.0, 0.0, 20.0]", "[5.0, 0.0, 20.0]")).blocks[0]
    assert [(str(one.was), str(one.becomes)) for one in block.changes] == [("0 mm", "5 mm")] and block.overwrites


def test_a_plan_that_changed_since_it_was_shown_is_not_overwritten(job, programmer):
    seen = beside(job).state
    take(job, programmer, {1})
    with pytest.raises(NotPossible, match="changed while this page was open"):
        actions.take_setups(job, read_setup_bytes(files()), by=programmer, numbers={1, 2}, seen=seen)
    assert job.setups.count() == 1


def test_what_belongs_to_the_shop_is_told_and_not_taken(job, programmer):
    told = " ".join(beside(job, SETUP + '\n[house_rules]\ngouge_most = "0.08"\n').told())
    assert "T77 (odd one) is not in the crib" in told and "gouge_most" in told


def test_the_history_names_the_file_and_the_setups(job, programmer):
    take(job, programmer, {1})
    assert LedgerRow.objects.get(kind="setups_from_file").data["setups"] == [1]


@given(
    st.tuples(*[st.integers(20_000, 300_000)] * 3), st.integers(0, 9000), st.sampled_from(["+X", "-X", "+Z", "-Y"]),
    st.integers(0, 5000),
)  # fmt: skip
def test_a_blank_as_typed_gives_the_boxes_it_came_from(sizes, over, up, vary):
    part = ((-3.0, 2.0, 0.0), (15.0, 20.0, 18.0))
    nominal = blank_box(part, tuple(one / 1000 for one in sizes), up, over / 1000)
    spread = [vary / 1000] * 3
    largest, smallest = (
        _grown(nominal, [sign * one for one in spread], "XYZ".index(up[1]), 1.0 if up[0] == "+" else -1.0)
        for sign in (1.0, -1.0)
    )
    typed = as_typed_blank(largest, smallest, part, up)
    back = [typed[f"blank_{axis}"].mm for axis in "xyz"]
    assert back == pytest.approx([one / 1000 for one in sizes], abs=1e-5)
    assert typed["blank_over"].mm == pytest.approx(over / 1000, abs=1e-5)
    assert [typed[f"vary_{axis}"].mm if typed[f"vary_{axis}"] else 0.0 for axis in "xyz"] == pytest.approx(
        spread, abs=1e-4
    )


def test_a_blank_that_is_not_centred_on_the_part_is_not_guessed_at():
    part = ((0.0, 0.0, 0.0), (10.0, 10.0, 10.0))
    box = ((-1.0, -1.0, -1.0), (12.0, 11.0, 11.0))
    assert as_typed_blank(box, box, part, "+Z") is None


def test_a_person_sees_the_file_beside_the_plan_and_then_takes_it(client, job, programmer):
    client.force_login(programmer)
    address = reverse("jobs:from_file", args=[job.pk])
    sent = [an_upload(data, name) for name, data in files().items()]
    shown = client.post(address, {"sent": sent})
    page = shown.content.decode()
    assert "Nothing is taken yet" in page and job.setups.count() == 0
    context = shown.context
    client.post(address, {"texts": context["texts"], "seen": context["beside"].state, "take": ["1", "2"]})
    assert job.setups.count() == 2


@pytest.mark.parametrize(
    ("sent", "said"),
    [([("a.txt", b"x")], "neither a ZIP archive"), ([("a.zip", b"PK-no")], "no ZIP archive"),
     ([("SETUP.toml", b"schema = 7")], "reads schema 1"), ([("tools.csv", b"x")], "here are 0"),
     ([("SETUP.toml", SETUP.encode())], "not among the files sent"), ([("SETUP.toml", b"\xff")], "no text in UTF-8")],
)  # fmt: skip
def test_a_file_that_cannot_be_read_is_refused_with_what_is_wrong(client, job, programmer, sent, said):
    client.force_login(programmer)
    answer = client.post(reverse("jobs:from_file", args=[job.pk]), {"sent": [an_upload(d, n) for n, d in sent]})
    assert answer.status_code == 422 and said in answer.content.decode()
