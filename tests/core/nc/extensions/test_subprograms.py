"""M98, M99 and O-numbers. Common practice, no source."""

from shopflow.core import nc
from tests.core.nc.reading_help import CALCULATOR, ends, read, sample, whys

HEAD = "O1\nG17 G21 G90 G54 G94 F100 S1000 M3\n"


def calc(text, **options):
    return read(HEAD + text, CALCULATOR, **options)


def test_a_subprogram_runs_where_it_is_called():
    program = calc("G0 X1\nM98 P20\nX9\nM30\nO20\nX5\nM99")
    assert [x for x, _, _ in ends(program)] == [1.0, 5.0, 9.0]
    assert not program.unread


def test_a_call_repeats_by_l():
    assert len(calc("G91 G0\nM98 P20 L3\nM30\nO20\nX5\nM99").motions) == 3


def test_a_call_repeats_by_the_first_digits_of_p():
    assert len(calc("G91 G0\nM98 P30020\nM30\nO20\nX5\nM99").motions) == 3


def test_a_number_of_five_digits_that_is_in_the_file_is_a_number():
    assert len(calc("G91 G0\nM98 P30020\nM30\nO30020\nX5\nM99").motions) == 1


def test_calls_may_nest():
    program = calc("G0\nM98 P20\nM30\nO20\nX1\nM98 P30\nX3\nM99\nO30\nX2\nM99")
    assert [x for x, _, _ in ends(program)] == [1.0, 2.0, 3.0]


def test_motions_carry_the_line_they_come_from():
    assert calc("G0\nM98 P20\nM30\nO20\nX5\nM99").motions.line.tolist() == [7]


def test_a_subprogram_that_is_not_in_the_file_is_told():
    assert whys(calc("M98 P77\nM30")) == [(3, "subprogram O77 is not in this file; what it does is not known")]


def test_a_subprogram_that_calls_itself_is_told_and_reading_ends():
    program = calc("M98 P20\nM30\nO20\nM98 P20\nM99")
    assert any("deep" in why for _, why in whys(program))


def test_a_subprogram_without_m99_is_told():
    assert any("without M99" in why for _, why in whys(calc("M98 P20\nM30\nO20\nG0 X1")))


def test_a_subprogram_that_runs_into_the_next_is_told():
    program = calc("M98 P20\nM30\nO20\nG0 X1\nO30\nX2\nM99")
    assert any("runs into O30" in why for _, why in whys(program))


def test_a_program_that_runs_into_the_next_one_is_told_and_stops():
    program = calc("G0 X1\nO20\nX2\nM99")
    assert any("without M30" in why for _, why in whys(program))
    assert len(program.motions) == 1


def test_m99_in_the_main_program_is_read_once_and_told():
    program = calc("G0 X1\nM99")
    assert "repeats-forever" in {entry.code for entry in program.assumptions}
    assert program.program_ends == 4


def test_a_program_never_called_is_told():
    program = calc("G0 X1\nM30\nO20\nX2\nM99")
    assert [(entry.code, entry.line) for entry in program.assumptions] == [("not-run", 5)]


def test_a_shop_program_with_all_of_it_is_read():
    program = nc.read(sample("plate_two_sides.nc"), control=CALCULATOR)
    assert not program.unread
    assert program.tools == (1, 2, 3)
    assert program.work_offsets == ("G54", "G55")
    assert [(stop.line, stop.kind, stop.retracted) for stop in program.stops] == [(18, "M01", True), (42, "M00", True)]
    assert program.number == "O1201"
    assert program.text(program.program_ends) == "N460 M30"
    assert sorted(set(program.motions.cycle.tolist())) == [0, 83, 84]
