"""O-word subprograms, branches and loops, named variables, subprograms in other files. Common practice, no source."""

import pytest

from shopflow.core import nc
from tests.core.nc.reading_help import CALCULATOR, ends, read, run, sole_why

O_WORDS = nc.CONTROLS["o-words"]


def xs(lines, **options):
    program = run("G0\nG0 X0\n".replace("G0\n", "", 1) + lines, O_WORDS, **options)
    assert not program.unread, program.unread
    return [x for x, _, _ in ends(program)][1:]


def test_a_subprogram_runs_when_it_is_called_and_not_where_it_stands():
    assert xs("o100 sub\nX1\no100 endsub\nX2\no100 call\nX3\nM2") == [2, 1, 3]


def test_arguments_are_the_subprograms_own_variables():
    assert xs("o1 sub\nX[#1+#2]\n#1=9\no1 endsub\n#1=5\no1 call [1] [2]\nX#1\nM2") == [3, 5]


def test_a_subprogram_may_have_a_name():
    assert xs("o<pocket> sub\nX1\no<pocket> endsub\no<pocket> call\nM2") == [1]


def test_return_leaves_early():
    assert xs("o1 sub\nX1\no1 return\nX2\no1 endsub\no1 call\nM2") == [1]


@pytest.mark.parametrize(("value", "expected"), [(1, [1, 9]), (2, [2, 9]), (3, [3, 9])])
def test_one_branch_runs(value, expected):
    body = f"#7={value}\no5 if [#7 EQ 1]\nX1\no5 elseif [#7 EQ 2]\nX2\no5 else\nX3\no5 endif\nX9\nM2"
    assert xs(body) == expected


def test_while_repeats():
    assert xs("#7=1\no5 while [#7 LT 4]\nX#7\n#7=[#7+1]\no5 endwhile\nM2") == [1, 2, 3]


def test_do_runs_once_at_least():
    assert xs("#7=5\no5 do\nX#7\n#7=[#7+1]\no5 while [#7 LT 5]\nX0\nM2") == [5, 0]


def test_repeat_counts():
    assert xs("#7=0\no5 repeat [3]\n#7=[#7+1]\nX#7\no5 endrepeat\nM2") == [1, 2, 3]
    assert xs("o5 repeat [0]\nX5\no5 endrepeat\nX1\nM2") == [1]


def test_break_and_continue():
    leave = "o6 if [#7 EQ 2]\no5 continue\no6 endif\no7 if [#7 EQ 4]\no5 break\no7 endif"
    body = f"#7=0\no5 while [1]\n#7=[#7+1]\n{leave}\nX#7\no5 endwhile\nM2"
    assert xs(body) == [1, 3]


def test_named_variables():
    assert xs("#<depth>=3\n#<_all>=4\nX[#<depth>+#<_all>]\nM2") == [7]


def test_a_name_is_the_subprograms_own_unless_it_begins_with_an_underscore():
    assert xs("o1 sub\nX#<_all>\nX#<own>\no1 endsub\n#<_all>=4\n#<own>=5\no1 call\nM2") == [4, 0]


@pytest.mark.parametrize(
    "body",
    ["o5 call", "o5 if [1]\nX1", "o5 endwhile", "o5 while [0]\nX1", "o5 endsub", "o5 sub\nX1", "X#<a", "o5 if 1"],
)
def test_a_statement_without_its_partner_is_told(body):
    assert run("G0 X0\n" + body, O_WORDS).unread


def test_a_loop_without_end_stops_at_the_step_limit():
    program = run("o5 while [1]\no5 endwhile", O_WORDS, limits=nc.Limits(max_steps=200))
    assert program.unread[-1].code == "limit"


def test_the_report_has_no_o_words():
    assert len(run("o5 call").unread) == 1


def test_a_subprogram_in_another_file_runs_at_the_line_of_its_call():
    main = b"O1\nG90 G21 G54 G0 X1\nM98 P20 L2\nX9\nM30\n"
    program = nc.read(main, control=CALCULATOR, library=[b"%\r\nO20\r\nX5\r\nX6\r\nM99\r\n%"])
    assert not program.unread
    assert [x for x, _, _ in ends(program)] == [1, 5, 6, 5, 6, 9]
    assert program.motions.line.tolist() == [2, 3, 3, 3, 3, 4]
    assert program.lines == 5


def test_what_is_not_read_in_another_file_is_told_at_the_line_of_its_call():
    program = nc.read(b"O1\nG90 G21 G54 G0 X1\nM98 P20\nM30", control=CALCULATOR, library=[b"O20\nG999\nM99"])
    assert [(entry.line, entry.text) for entry in program.unread] == [(3, "G999")]


def test_other_files_do_not_run_by_themselves():
    program = nc.read(b"O1\nG90 G21 G54 G0 X1", control=CALCULATOR, library=[b"O20\nX5\nM99"])
    assert len(program.motions) == 1


def test_without_the_other_file_the_call_is_told():
    assert "not in this file" in sole_why(read("O1\nM98 P20\nM30", CALCULATOR))
