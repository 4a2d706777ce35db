"""The order of operations: nothing before what it waits for, and no more tool changes than that needs."""

from hypothesis import given
from hypothesis import strategies as st

from shopflow.core.planning.operations import HOLE_KINDS, Operation, OperationKind
from shopflow.core.planning.ordering import first_of_each_tool, in_order, waits_for
from tests.core.planning.parts import tool

TOOLS = st.none() | st.integers(1, 5).map(lambda number: tool(number, "flat end mill", float(number)))
EDGES = (OperationKind.CHAMFER, OperationKind.EDGES)


@st.composite
def operations(draw):
    made = []
    for number in range(draw(st.integers(0, 12))):
        kind = draw(st.sampled_from(OperationKind))
        family = "mill"
        if kind in HOLE_KINDS:
            family = f"hole {draw(st.integers(1, 3))}"
        elif kind in EDGES:
            family = "edges"
        made.append(Operation(kind, f"{number}", "", draw(TOOLS), family=family))
    return made


@given(operations())
def test_nothing_comes_before_what_it_waits_for(given_operations):
    order = in_order(given_operations)
    early = [(a, b) for n, a in enumerate(order) for b in order[n + 1 :] if waits_for(a, b)]
    assert early == []


@given(operations())
def test_every_operation_is_there_once(given_operations):
    assert sorted(one.key for one in in_order(given_operations)) == sorted(one.key for one in given_operations)


def test_holes_of_two_sizes_are_spotted_without_a_change_between():
    spot, first, second = (tool(n, "drill", float(n)) for n in (1, 2, 3))
    given_operations = [
        Operation(kind, f"{family} {kind}", "", of, family=family)
        for family, drill in (("hole a", first), ("hole b", second))
        for kind, of in ((OperationKind.SPOT, spot), (OperationKind.DRILL, drill))
    ]
    assert len(first_of_each_tool(in_order(given_operations))) == 3


def test_a_tool_finishes_what_it_roughed_before_it_is_changed():
    large, small = tool(1, "flat end mill", 16.0), tool(2, "flat end mill", 6.0)
    given_operations = [
        Operation(OperationKind.ROUGH, "a", "", large), Operation(OperationKind.ROUGH, "b", "", small),
        Operation(OperationKind.WALLS, "c", "", small),
    ]  # fmt: skip
    assert [one.key for one in in_order(given_operations)] == ["a", "b", "c"]
