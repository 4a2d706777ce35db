"""A program of a job with everything that its review looks at, as files that `manage.py review_program` reads.

The database is the master: the files say what the rows say now, and read back they give the same review.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import PurePath

from shopflow.core.errors import NotPossible
from shopflow.core.planning.directions import AXES
from shopflow.core.review.setup_text import written
from shopflow.core.review.setup_values import AS_MODEL, SetupBlock, SetupFile, Side
from shopflow.core.stock.blanks import BlankForm
from shopflow.core.types import Machine, Vector
from shopflow.jobs.models import JobFile, Setup
from shopflow.jobs.queries import zero
from shopflow.programs import queries
from shopflow.programs.inputs import inputs_of
from shopflow.programs.models import ProgramRevision
from shopflow.programs.simulating import Asked
from shopflow.programs.stock_asked import Lacking, asked_of, earlier_revisions
from shopflow.programs.today import Today
from shopflow.records import files

SETUP = "SETUP.toml"


def setup_files(revision: ProgramRevision) -> dict[str, bytes]:
    """Bytes by file name: the program and those before it, SETUP.toml, the model and what else the setup names.

    Raises NotPossible where the plan does not say enough to cut the program's setups.
    """
    today = Today.of(revision)
    asked = today.once(asked_of, revision)
    if isinstance(asked, Lacking):
        raise NotPossible(asked.why)
    model = today.model
    if model is None:
        raise NotPossible("The job has no model.")
    name = PurePath(model.name).name
    blank = _blank_file(revision, today)
    blanks = {_beside(name, blank): blank} if blank else {}
    said = as_setup_file(revision, asked, today, name, next(iter(blanks), ""))
    texts = written(said, SETUP)
    return {
        _file_name(revision): queries.content(revision),
        **dict(said.earlier),
        **{one: files.content(row.stored) for one, row in ({name: model} | blanks).items()},
        **{one: text.encode() for one, text in texts.items()},
    }


def _blank_file(revision: ProgramRevision, today: Today) -> JobFile | None:
    """The model of the blank that the first program starts from; None where it is a box or a round."""
    first = (*earlier_revisions(revision, today), revision)[0]
    return today.setups_of(first.program_id)[0].blank_file


def _beside(model: str, blank: JobFile) -> str:
    """The name of the blank's file, another than that of the part's model."""
    name = PurePath(blank.name).name
    return f"blank {name}" if name == model else name


def as_setup_file(revision: ProgramRevision, asked: Asked, today: Today, model: str, blank: str = "") -> SetupFile:
    """What a review of this revision looks at, as the rows say it now. model: name of the model's file. blank: of the
    file with the model of the blank, "" where it is a box or a round."""
    inputs, before = today.once(inputs_of, revision), earlier_revisions(revision, today)
    runs = [(one, _asked(one, asked.machine, today), _file_name(one)) for one in before] + [(revision, asked, "")]
    tools = {tool.number: tool for _, run, _ in reversed(runs) for tool in run.tools}
    first = runs[0][1].places[0]
    return SetupFile(
        model=model,
        solid=revision.program.job.solid_index,
        machine=asked.machine,
        blank=AS_MODEL if blank else first.blank,
        smallest=AS_MODEL if blank else first.smallest,
        setups=tuple(block for one, run, name in runs for block in _blocks(today.setups_of(one.program_id), run, name)),
        tools=tuple(tools[number] for number in sorted(tools)),
        material=inputs.material,
        limits=inputs.changed_rules,
        own_data=inputs.own_data,
        plan=inputs.plan,
        on_hand=inputs.on_hand,
        threads_at_major=asked.shows_majors,
        form=BlankForm(model=blank) if blank else first.form,
        earlier=tuple((_file_name(one), queries.content(one)) for one in before),
    )


def _asked(revision: ProgramRevision, machine: Machine, today: Today) -> Asked:
    asked = today.once(asked_of, revision)
    if isinstance(asked, Lacking):
        raise NotPossible(asked.why)
    if asked.machine != machine:
        raise NotPossible(f"{revision.program.name} runs on another machine, and a setup file knows one.")
    return asked


def _file_name(revision: ProgramRevision) -> str:
    return f"{revision.program.name}.nc"


def _blocks(setups: list[Setup], asked: Asked, program: str) -> Iterator[SetupBlock]:
    """program: the name of its file, "" of the one under review."""
    by_number = {setup.number: setup for setup in setups}
    for place in asked.places:
        setup, others = by_number[place.number], place.others
        sides = {key: tuple(map(_name, getattr(others, key))) for key in ("later", "known", "unknown")}
        yield SetupBlock(
            place.number, setup.work_offset_code, setup.up, setup.along_x, _zero(setup), place.holding,
            program=program, tools=tuple(tool.number for tool in setup.tools.all()), angles_deg=setup.angles, **sides,
        )  # fmt: skip


def _zero(setup: Setup) -> Vector:
    at = zero.zero_mm(setup)
    assert at is not None  # a setup without a zero is lacking
    return at


def _name(axis: Vector) -> Side:
    """The name of the axis that this direction is, or the direction itself."""
    return next((name for name, vector in AXES.items() if tuple(vector) == tuple(axis)), axis)
