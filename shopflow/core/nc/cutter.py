"""G40, G41, G42: which size applies, and where compensation begins and ends [NISTIR 6556, 3.5.10, App. B]."""

from __future__ import annotations

from shopflow.core.nc.codes import Codes, name
from shopflow.core.nc.compensation import Compensator
from shopflow.core.nc.expressions import Fault
from shopflow.core.nc.offsets import tool_number
from shopflow.core.nc.reading import Reading


def compensate(reading: Reading, codes: Codes) -> None:
    """Carry out the block's compensation code, if it has one."""
    code = codes.g.get("compensation")
    if code == 400:
        _switch_off(reading)
    elif code is not None:
        _switch_on(reading, codes, code // 10)


def _switch_off(reading: Reading) -> None:
    state = reading.state
    state.side = state.radius_offset = 0
    if reading.compensation is None:
        return
    place = reading.compensation.leave()
    if place is not None and not reading.control.exit_moves_both_axes:
        state.position[0], state.position[1] = place


def _switch_on(reading: Reading, codes: Codes, code: int) -> None:
    state = reading.state
    word = codes.take("D")
    if state.side:
        raise Fault(f"G{code} while compensation is already on")
    if state.plane != 17:
        raise Fault(f"G{code} works in the XY plane (G17) only")
    if word is not None and word.pointed and not word.value.is_integer():
        radius: float | None = reading.length(word) / 2.0 if reading.control.size_in_d else None
        number = state.tool
    else:
        number = state.tool if word is None else tool_number(word)
        radius = _radius(reading, number)
    state.side, state.radius_offset = code, number
    if reading.control.compensation_is_wear:
        reading.assume("compensation-by-wear", f"{name(code * 10)}: by wear, the path read is the one programmed")
    elif radius is None:
        size = "the size of the tool" if word is None else f"what {word.text} holds"
        why = f"G{code}: {size} is not known, so compensation is not applied; the path read is the one programmed"
        reading.notes.refuse(reading.line, reading.text, why, "compensation")
    else:
        reading.begin_compensation(_compensator(reading, radius, code))


def _radius(reading: Reading, number: int) -> float | None:
    """Half the diameter in the tool table; 0 for D0. A register that is not the tool's own may hold anything."""
    if number == 0:
        return 0.0
    tool = reading.tools_known.get(number)
    if tool is None or (number != reading.state.tool and not reading.control.d_is_tool_number):
        return None
    return tool.diameter_mm / 2.0


def _compensator(reading: Reading, radius: float, code: int) -> Compensator:
    return Compensator(
        radius,
        code,
        inside_corners=reading.control.compensated_inside_corners,
        give=reading.rows.add,
        refuse=reading.refuse_compensation,
    )
