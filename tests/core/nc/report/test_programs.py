"""Programs that nobody in this project wrote, against what an independent interpreter made of them (see ORIGIN.md)."""

import re

import pytest

from shopflow.core import nc
from shopflow.core.types import MotionKind
from tests.core.nc.reading_help import CALCULATOR, ends, shared_program


def move_count(program, before_line=10**9):
    """Motions other than dwells, up to a line."""
    motions = program.motions
    return int(((motions.kind != MotionKind.DWELL) & (motions.line < before_line)).sum())


@pytest.mark.parametrize(
    ("name", "count"),
    [
        ("nist-c1-hello.ngc", 59),
        ("nist-c2-expressions.ngc", 46),
        ("gw-test03.ngc", 13),
        ("gw-test04.ngc", 13),
        ("gw-test06.ngc", 13),
        ("gw-test09.ngc", 23),
        ("gw-test11.ngc", 23),
        ("cncjs-tball-pocket.gcode", 40266),
    ],
)
def test_as_many_moves_as_the_other_interpreter(name, count):
    program = nc.read(shared_program(name))
    assert move_count(program) == count
    assert not program.unread


def test_the_expected_values_in_the_comments_of_appendix_c2():
    """NISTIR 6556, App. C.2: each comment says what X should be."""
    program = nc.read(shared_program("nist-c2-expressions.ngc"))
    checked = 0
    for row, line in enumerate(program.motions.line.tolist()):
        said = re.search(r"should be (-?[\d.]+)", program.text(line))
        if said:
            assert program.motions.end[row, 0] == pytest.approx(float(said[1]), abs=1e-3), program.text(line)
            checked += 1
    assert checked == 44


def test_the_cycles_of_appendix_c3_are_all_read():
    """The other interpreter makes 304 moves of it. Counted by the report's own steps, block by block, it is 299.

    Before the first hole: up to R where the tool stands below it [3.5.16.1, step 0], across, and down to R where it
    stands above. Of the two Z moves a block has one: the blocks under G90 begin above R (at the clear level of the
    block before), those under G91 with R more than 0 begin below it, and those with R0 begin on it and have none.
    Then the cycle's own steps [3.5.16.2 to .10]: 2 for G81, G82, G84, G85, G86, G89; 8 for G87 (aside, down, back, up
    to K, down, aside, up, back); for G83 by Q 0.21 over 1.3 in seven pecks, two moves between each, one up. G88 is a
    feed, and the way up by hand, which counts as one move here. Dwells, spindle and stops are no moves.

    Thirteen blocks make the five, by the same steps counted otherwise. G84, G85 and G89 (n0100 n0110 n0150, n0300
    n0310 n0350, n0500 n0510 n0550) leave the hole with a feed to R and a rapid from there to the clear level, two
    moves where the report has one feed to the clear level [3.5.16.5, .6, .10]: nine more. G88 (n0140 n0190 n0340
    n0540) ends with the person's hand [3.5.16.9], which is no move of the program there and one here: four less.
    It is an inference: it fits 5 in three like planes, and that reading goes to R first in G83 too
    (rs274ngc-facts.md, example 3). Ours keeps to the report's words.
    """
    program = nc.read(shared_program("nist-c3-cycles.ngc"))
    assert not program.unread
    rest_of_g17 = 3 * (2 + 2) + 2 * (2 + 8) + (2 + 2) + (2 + 2)  # G84 G85 G86; G87 twice; G88; G89
    plane = (
        (2 + 2) + 3 * 3 + (2 + 2) + 4 * 3 + (2 + 7 + 6 * 2 + 1) + rest_of_g17
    )  # G81, three more, G82, four more, G83
    more_in_g17 = 2 * (2 + 2) + (2 + 2) + (2 + 8) + (2 + 2)  # one more G81 and G82; under M4: G86, G87, G88
    assert move_count(program) == 3 * plane + more_in_g17 == 299
    assert program.count(MotionKind.DWELL) == 27


def test_the_other_reading_of_appendix_c3_differs_in_thirteen_blocks():
    program = nc.read(shared_program("nist-c3-cycles.ngc"))
    texts = [program.text(line).lower() for line in range(1, program.lines + 1)]
    out_by_feed = sum(any(f" {code} " in text for code in ("g84", "g85", "g89")) for text in texts)
    by_hand = sum(" g88 " in text for text in texts)
    assert (out_by_feed, by_hand) == (9, 4)
    assert move_count(program) + out_by_feed - by_hand == 304


@pytest.mark.parametrize("name", ["nist-table12-comp-edge.ngc", "nist-table13-comp-nominal.ngc"])
def test_a_fragment_without_feed_is_refused_at_its_first_line(name):
    program = nc.read(shared_program(name))
    assert (program.unread[0].line, program.unread[0].code) == (1, "feed-not-stated")


def test_two_planes_in_one_block_are_refused():
    unread = nc.read(shared_program("gw-test13.ngc")).unread
    assert [(entry.line, entry.text) for entry in unread] == [(12, "G17 G18")]


def test_an_arc_whose_end_is_off_its_circle_is_refused_at_n624():
    program = nc.read(shared_program("cncjs-Circle_Diamond_Square_Calibration.gcode"))
    first = program.unread[0]
    assert first.text.startswith("N624 ")
    assert "29.0000" in first.why
    assert "27.5862" in first.why  # the other interpreter says 27.6
    assert move_count(program, first.line) == 615


def test_full_circles_without_end_point_are_read_by_profile_and_the_arc_without_centre_is_refused():
    program = nc.read(shared_program("cncjs-full-circle-without-xyz.gcode"), control=CALCULATOR)
    first = program.unread[0]
    assert first.text.startswith("N55 ")
    assert move_count(program, first.line) == 10


def test_the_report_refuses_a_full_circle_without_end_point():
    program = nc.read(shared_program("cncjs-full-circle-without-xyz.gcode"))
    assert [entry.text[:3] for entry in program.unread if "axis word of its plane" in entry.why] == [
        "N48",
        "N54",
        "N60",
    ]


def test_a_mode_alone_in_its_block_is_refused_by_the_report():
    program = nc.read(shared_program("kinasmith-LTC3092-drill.nc"))
    assert {entry.why for entry in program.unread} == {"G3 has no axis word"}
    assert len(program.unread) == 44


def test_a_mode_alone_in_its_block_is_read_by_profile():
    program = nc.read(shared_program("kinasmith-LTC3092-drill.nc"), control=CALCULATOR)
    assert not program.unread
    assert program.count(MotionKind.ARC) == 44


@pytest.mark.parametrize(("control", "seconds"), [(nc.PLAIN, 4000.0), (CALCULATOR, 4.0)])
def test_a_dwell_of_p4000_is_read_as_the_control_counts(control, seconds):
    program = nc.read(shared_program("kinasmith-LTC3092-drill.nc"), control=control)
    assert program.motions.dwell_s[program.motions.kind == MotionKind.DWELL].tolist() == [seconds, seconds]


def test_an_incremental_program_without_end_is_read_from_where_it_is_assumed_to_stand():
    program = nc.read(shared_program("cncjs-helical-thread-milling.gcode"))
    assert move_count(program) == 12
    assert program.program_ends is None
    assert "start-assumed" in {entry.code for entry in program.assumptions}


def test_the_full_circle_with_only_x_given_is_one_turn():
    """NISTIR 6556, App. C.1: N0320 g2 x32.5 j2.5."""
    program = nc.read(shared_program("nist-c1-hello.ngc"))
    row = program.motions.line.tolist().index(32)
    assert program.text(32).startswith("n0320")
    assert program.motions.turn_deg[row] == -360.0


def test_g10_before_the_first_move_shifts_nothing():
    assert ends(nc.read(shared_program("gw-test06.ngc")))[0][2] == 50.8
