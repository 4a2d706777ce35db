"""The drawing of strips: plain functions, no database."""

import re

import pytest
from django.template import Context, Template
from hypothesis import given
from hypothesis import strategies as st

from shopflow.workflow import strips
from shopflow.workflow.strips import Bead, BeadState, OpState, Strip, StripOp


def ops(*states: str) -> list[StripOp]:
    kinds = ["saw", "mill", "mill", "deburr", "inspect", "ship"]
    return [
        StripOp(10 * (i + 1), f"op {i}", kinds[i % 6], OpState(state), f"/op/{i}") for i, state in enumerate(states)
    ]


def strip(**kept: object) -> Strip:
    plain = {
        "title": "Bearing block",
        "ops": ops("done", "done", "now", "todo"),
        "beads": [Bead(2, "A", 4, BeadState.RUNNING)],
    }
    return Strip(pk=7, job_number="J-1042", **{**plain, **kept})


def rendered(shown: Strip, **options: object) -> str:
    text = "{% load strips %}{% strip shown alone=alone %}"
    return Template(text).render(Context({"shown": shown, "alone": options.get("alone", False)}))


any_strip = st.integers(1, 40).flatmap(
    lambda count: st.builds(
        strip,
        ops=st.lists(st.sampled_from([*OpState]), min_size=count, max_size=count).map(lambda states: ops(*states)),
        beads=st.lists(
            st.builds(
                Bead,
                op_index=st.integers(0, count - 1),
                label=st.just("A"),
                count=st.integers(0, 10**6),
                state=st.sampled_from([*BeadState]),
            ),
            max_size=12,
        ),
        stops=st.lists(st.integers(0, count - 1), max_size=5),
    )
)


@given(any_strip)
def test_ops_stand_in_order_and_at_even_distances(shown):
    places = [mark.at for mark in strips.draw(shown).ops]
    assert places == sorted(places)
    assert all(abs((b - a) - 100 / len(places)) < 0.01 for a, b in zip(places, places[1:], strict=False))


@given(any_strip)
def test_the_stretches_cover_the_line_without_a_gap(shown):
    drawn = strips.draw(shown).stretches
    assert (drawn[0].start, drawn[-1].end) == (0, 100)
    assert all(a.end == b.start for a, b in zip(drawn, drawn[1:], strict=False))


@given(any_strip)
def test_no_bead_lies_outside_the_picture_or_on_the_line(shown):
    drawing = strips.draw(shown)
    assert all(bead.y >= 0 and bead.y + bead.height < drawing.line_y - 6 for bead in drawing.beads)


@given(any_strip)
def test_beads_at_one_op_do_not_cover_each_other(shown):
    drawing = strips.draw(shown)
    for place in {bead.at for bead in drawing.beads}:
        tops = sorted(bead.y for bead in drawing.beads if bead.at == place)
        assert all(b - a > strips.BEAD_HEIGHT for a, b in zip(tops, tops[1:], strict=False))


@given(any_strip)
def test_every_bead_is_said_in_words(shown):
    said = strips.in_words(shown)
    assert all(bead.words in said[bead.op_index] for bead in shown.beads)


def test_a_bead_at_an_op_that_is_not_there_is_refused():
    with pytest.raises(IndexError, match="bead at op 9 of a strip with 4 ops"):
        strips.draw(strip(beads=[Bead(9, "A", 1)]))


def test_a_stop_stands_half_way_between_its_op_and_the_next():
    drawing = strips.draw(strip(stops=[1]))
    assert drawing.stops == [(drawing.ops[1].at + drawing.ops[2].at) / 2]


def test_a_stop_after_the_last_op_is_not_drawn():
    assert strips.draw(strip(stops=[3])).stops == []


def test_a_wide_count_makes_a_wide_bead():
    assert strips.bead_width("125000") > strips.bead_width("9") == 24


def test_the_line_is_done_up_to_the_op_in_work():
    assert [part.is_done for part in strips.draw(strip()).stretches] == [True, True, True, False, False]


def test_a_strip_not_begun_has_no_done_stretch():
    assert not any(part.is_done for part in strips.draw(strip(ops=ops("todo", "todo"), beads=[])).stretches)


def test_a_strip_without_ops_says_that_there_is_no_routing():
    assert "No routing yet" in rendered(strip(ops=[], beads=[]))


def test_one_day_late_is_said_in_the_singular():
    assert strip(late_days=1).late_words == "1 day late"


def test_a_job_due_tomorrow_is_not_called_late():
    assert strip(late_days=-1).late_words == ""


def test_the_strip_carries_the_id_by_which_it_is_replaced():
    assert 'id="strip-7"' in rendered(strip())


def test_the_strip_is_drawn_without_a_style_attribute():
    assert not re.search(r"\bstyle=|<style|\bon\w+=", rendered(strip(stops=[1], held="tool broken", needs_you=True)))


def test_a_held_job_shows_its_reason():
    assert "tool T12 broken" in rendered(strip(held="tool T12 broken"))


def test_what_a_person_typed_is_escaped():
    assert "<b>" not in rendered(strip(title="<b>bold</b>", ops=[StripOp(10, "<b>saw</b>")], beads=[]))


def test_alone_it_leaves_name_and_due_date_to_the_page():
    assert "Bearing block" not in rendered(strip(), alone=True)
