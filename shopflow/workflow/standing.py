"""Where jobs stand, as strips: made for a page of jobs at once, in a number of queries that does not grow with them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from shopflow.floor import queries as floor
from shopflow.floor.models import Place, Standing
from shopflow.jobs.models import Job, Stage, Step
from shopflow.people.access import may
from shopflow.people.models import User
from shopflow.workflow.actions import LEAVING
from shopflow.workflow.strips import Bead, BeadState, OpState, Strip, StripOp

DESK = (Stage.INTAKE, Stage.PLAN, Stage.REVIEW, Stage.RELEASE)
SHOWN_ASIDE = {Place.HELD: BeadState.HELD, Place.OUTSIDE: BeadState.WAITING, Place.SCRAPPED: BeadState.SCRAP}


def strips_for(jobs: Sequence[Job], user: User) -> list[Strip]:
    """A strip for each job, in the same order. The jobs come with revision, part and customer (home_jobs)."""
    steps = _steps_of(jobs)
    standings = floor.standings_of(jobs)
    running = floor.running_in(jobs)
    today = timezone.localdate()
    return [
        _strip(job, user, steps.get(job.pk, []), standings.get(job.pk, []), running.get(job.pk, set()), today)
        for job in jobs
    ]


def _steps_of(jobs: Sequence[Job]) -> dict[int, list[Step]]:
    found: dict[int, list[Step]] = {}
    for step in Step.objects.filter(job__in=jobs).order_by("op_number"):
        found.setdefault(step.job_id, []).append(step)
    return found


def _strip(
    job: Job, user: User, steps: list[Step], standings: list[Standing], running: set[tuple[int, int]], today: date
) -> Strip:
    is_released = job.stage in (Stage.FLOOR, Stage.CLOSED)
    desk = [] if is_released else _desk_ops(job)
    ops = [*desk, *(_op(job, step, steps, standings, running) for step in steps)]
    return Strip(
        pk=job.pk,
        job_number=job.number,
        title=f"{job.revision.part.name or job.revision.part.number} {_('rev')} {job.revision.revision}",
        customer=job.customer.name,
        due=date_format(job.due_on, "j M"),
        late_days=(today - job.due_on).days if job.is_open else 0,
        url=job.get_absolute_url(),
        ops=ops,
        beads=_beads(standings, steps, running) if is_released else [_desk_bead(job, user)],
        stops=_stops(steps, len(desk)),
        held=job.held_reason,
        needs_you=_needs(job, user) and not job.held_reason,
        headline=headline(job, standings),
        quantity=job.quantity,
    )


def _desk_ops(job: Job) -> list[StripOp]:
    now = DESK.index(Stage(job.stage))
    states = [OpState.DONE] * now + [OpState.HELD if job.held_reason else OpState.NOW] + [OpState.TODO] * (3 - now)
    return [
        StripOp("", str(stage.label), "desk", state, f"{job.get_absolute_url()}#stage-{stage.value}")
        for stage, state in zip(DESK, states, strict=True)
    ]


def _desk_bead(job: Job, user: User) -> Bead:
    state = BeadState.HELD if job.held_reason else BeadState.YOU if _needs(job, user) else BeadState.WAITING
    return Bead(DESK.index(Stage(job.stage)), "", job.quantity, state)


def _needs(job: Job, user: User) -> bool:
    """A desk stage waits for whoever may take the job out of it; on the floor beads and stations say who is needed."""
    return job.stage in DESK and may(user, LEAVING[job.stage])


def _op(job: Job, step: Step, steps: list[Step], standings: list[Standing], running: set[tuple[int, int]]) -> StripOp:
    url = reverse("workflow:job", args=[job.pk]) + f"#op-{step.op_number}"
    return StripOp(step.op_number, step.title, step.kind, _op_state(job, step, steps, standings), url)


def _op_state(job: Job, step: Step, steps: list[Step], standings: list[Standing]) -> OpState:
    """Done when every piece of the job is past it; now when pieces stand at it."""
    if job.stage == Stage.CLOSED:
        return OpState.DONE
    if job.stage != Stage.FLOOR:
        return OpState.TODO
    if any(s.place == Place.HELD and s.step_id == step.pk for s in standings):
        return OpState.HELD
    here = [s.step_id for s in standings if s.place in (Place.STEP, Place.OUTSIDE)]
    if step.pk in here:
        return OpState.NOW
    op_of = {other.pk: other.op_number for other in steps}
    return OpState.TODO if any(op_of[pk] < step.op_number for pk in here) else OpState.DONE


def _beads(standings: list[Standing], steps: list[Step], running: set[tuple[int, int]]) -> list[Bead]:
    index = {step.pk: number for number, step in enumerate(steps)}
    has_lots = len({standing.lot_id for standing in standings}) > 1
    beads = []
    for standing in sorted(standings, key=lambda s: (s.lot.number, s.place)):
        state = _bead_state(standing, running)
        if state is not None and standing.step_id in index:
            label = _("lot %(n)s") % {"n": standing.lot.number} if has_lots else ""
            beads.append(Bead(index[standing.step_id], label, standing.quantity, state))
    return beads


def _bead_state(standing: Standing, running: set[tuple[int, int]]) -> BeadState | None:
    if standing.place == Place.STEP:
        return BeadState.RUNNING if (standing.lot_id, standing.step_id) in running else BeadState.WAITING
    return SHOWN_ASIDE.get(Place(standing.place))


def _stops(steps: list[Step], offset: int) -> list[int]:
    """A person turns the part over between one setup and the next."""
    mills = [step.kind == Step.Kind.MILL for step in steps]
    return [offset + i for i in range(len(steps) - 1) if mills[i] and mills[i + 1]]


def headline(job: Job, standings: list[Standing]) -> str:
    """Where the job is, in words: its stage, or from release on what stands where ("4 in mill, 8 in deburr")."""
    if job.stage != Stage.FLOOR:
        return str(Stage(job.stage).label)
    here: dict[str, int] = {}
    for standing in sorted(standings, key=lambda s: s.step.op_number):
        if standing.place == Place.STEP:
            here[standing.step.get_kind_display()] = here.get(standing.step.get_kind_display(), 0) + standing.quantity
    shipped = sum(s.quantity for s in standings if s.place == Place.SHIPPED)
    said = [_("%(n)s in %(kind)s") % {"n": n, "kind": kind} for kind, n in here.items()]
    if shipped:
        said.append(ngettext("%(n)d shipped", "%(n)d shipped", shipped) % {"n": shipped})
    return ", ".join(said) or _("nothing stands on the floor")
