"""The exact bytes that go to a machine."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from django.utils import timezone
from django.utils.translation import gettext as _

from shopflow.core.errors import NotPossible
from shopflow.core.measure import Measure
from shopflow.core.nc import Program, writing
from shopflow.core.nc.writing import MachineText, PutStop
from shopflow.jobs import queries as jobs
from shopflow.people.access import Act, require
from shopflow.people.models import User
from shopflow.programs import queries, reviewing
from shopflow.programs.assumptions import rows_of
from shopflow.programs.models import ProgramRevision, SignOff
from shopflow.programs.queries import Reviewed


def floor_copy(
    revision: ProgramRevision,
    *,
    by: User,
    stops: Sequence[PutStop] = (),
) -> bytes:
    """The signed program with a header that says what it is, with stops put in where asked, as the machine wants it.

    Read again and proved to move exactly as what was signed. Raises NotPossible where its sign-off does not hold, or
    where that proof fails.
    """
    seen, sign_off, program = _signed(revision, by=by)
    header = list(header_lines(seen, sign_off))
    return writing.floor_copy(program, header=header, stops=stops, rules=_machine_text(revision))


def prove_out_copy(revision: ProgramRevision, *, by: User) -> bytes | None:
    """The copy for the first piece: an optional stop (M01) before each further tool, else as `floor_copy`.

    None where there is no place for such a stop. A tool whose change stands where the spindle is not clear gets none,
    and the header says so. Raises as `floor_copy` does.
    """
    seen, sign_off, program = _signed(revision, by=by)
    wanted = writing.optional_stops_at_tools(program)
    possible = [stop for stop in wanted if writing.can_stop(program, stop.after_line)]
    if not possible:
        return None
    said = ["PROVE-OUT COPY, FOR THE FIRST PIECE: OPTIONAL STOP ON"]
    said += [f"NO STOP HERE TO {stop.message}: NOT CLEAR" for stop in wanted if stop not in possible]
    header = [*said, *header_lines(seen, sign_off)]
    return writing.floor_copy(program, header=header, stops=possible, rules=_machine_text(revision))


def copy_name(revision: ProgramRevision, *, by: User) -> str:
    """What the copies of a signed program are called on its machine. Raises NotPossible as `floor_copy` does."""
    _seen, _sign_off, program = _signed(revision, by=by)
    return writing.file_name(program, revision.program.name, _machine_text(revision))


def _machine_text(revision: ProgramRevision) -> MachineText:
    machine = rows_of(revision).machine
    return machine.machine_text() if machine else MachineText()


def _signed(revision: ProgramRevision, *, by: User) -> tuple[Reviewed, SignOff, Program]:
    """The revision with the sign-off that holds, and its program as read; refused where none holds."""
    require(by, Act.RELEASE)
    seen = Reviewed(queries.fresh(revision))
    standing = queries.standing_of(seen)
    if not standing.valid or standing.sign_off is None:
        raise NotPossible(
            _("%(program)s is not released: %(reason)s") % {"program": revision, "reason": standing.reason}
        )
    return seen, standing.sign_off, reviewing.read(seen.inputs, queries.content(seen.revision))


def header_lines(seen: Reviewed, sign_off: SignOff) -> Iterator[str]:
    """What the person at the machine checks before the first cycle."""
    revision = seen.revision
    job = revision.program.job
    yield f"JOB {job.number}  PART {job.part.number} REV {job.revision.revision}"
    for setup in revision.program.setups.select_related("step"):
        step = getattr(setup, "step", None)
        op = f"OP {step.op_number} " if step else ""
        yield f"{op}SETUP {setup.number} {setup.work_offset_code} ZERO: {jobs.zero_text(setup) or 'see setup sheet'}"
    yield f"PROGRAM {revision.program.name} REVISION {revision.number} UNITS {(seen.reading or {}).get('units', '')}"
    signed = timezone.localtime(sign_off.signed_at)
    yield f"SIGNED OFF {signed:%Y-%m-%d %H.%M} BY {sign_off.printed_name}"
    yield f"SIGNED BYTES SHA-256 {sign_off.content_sha256[:32]}"
    yield f"{sign_off.content_sha256[32:]}"
    for number, tool in seen.today.crib_of(revision).items():
        if tool is not None and number in (seen.reading or {}).get("tools", ()):
            yield f"T{number} {tool.name} STICKOUT AT LEAST {_length(tool.stickout)}"
            gauge_length = _length(tool.gauge_length) if tool.gauge_length else _("not known: no holder")
            yield f"T{number} GAUGE LENGTH AS REVIEWED {gauge_length}"
    yield "MEASURE ACTUAL LENGTHS AT THE MACHINE"


def _length(measure: Measure | None) -> str:
    """As it was typed, with its unit."""
    if measure is None:
        return _("not set")
    return measure.text if measure.text[-1] in 'mn"″' else f"{measure.text} {measure.unit}"
