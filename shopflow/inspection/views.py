"""The inspection bench: what waits to be measured, and the table of values of one lot at one step."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from shopflow.core.errors import CoreError
from shopflow.floor import queries as floor_queries
from shopflow.floor.models import Lot
from shopflow.inspection import actions, queries
from shopflow.inspection.forms import DispositionForm, FoundForm, GaugeForm, PassForm, PlaceForm, ValueForm
from shopflow.inspection.models import Disposition, Nonconformance
from shopflow.jobs.models import Characteristic, Step
from shopflow.people.access import Act, may
from shopflow.people.answers import answer, problems, refuse
from shopflow.people.models import User
from shopflow.people.pages import HtmxRequest, wants_part
from shopflow.people.sessions import signed_in


@require_GET
def bench(request: HttpRequest) -> HttpResponse:
    """What waits at inspection, and what nonconformances wait for a disposition."""
    context = {
        "waiting": queries.at_bench(),
        "undecided": queries.undecided(),
        "unplaced": queries.unplaced_on_the_floor(),
        "verdicts": Disposition.Verdict.choices,
    }
    return render(request, "inspection/bench.html", context)


@require_GET
def lot(request: HttpRequest, lot_id: int, step_id: int) -> HttpResponse:
    here, step = _lot_and_step(lot_id, step_id)
    return render(request, "inspection/lot.html", _context(here, step, signed_in(request)))


def _lot_and_step(lot_id: int, step_id: int) -> tuple[Lot, Step]:
    found = get_object_or_404(Lot.objects.select_related("job__revision__part__customer"), pk=lot_id)
    return found, get_object_or_404(Step, pk=step_id, job=found.job_id)


def _context(here: Lot, step: Step, user: User) -> dict[str, Any]:
    run = floor_queries.open_run(here, step)
    standing = floor_queries.standing_at(here, step)
    return {
        "lot": here,
        "job": here.job,
        "step": step,
        "run": run,
        "standing": standing,
        "pieces": queries.pieces_to_measure(here, step),
        "rows": (rows := queries.table(here, step)),
        "lacks_gauge": bool(_lacking_gauge(rows)),
        "is_sampled": any(row.characteristic.sampling for row in rows),
        "open_points": queries.open_points(here, step),
        **_of_nonconformances(here, user),
        "unplaced": queries.unplaced(here),
        "yes_or_no": yes_or_no(),
        "following": floor_queries.next_step(step),
        "key": uuid4().hex,
        "gauge_form": GaugeForm(step=step, on=timezone.localdate(), auto_id="taken_%s", initial=_lacking_gauge(rows)),
        "found_form": FoundForm(auto_id="found_%s"),
        "pass_form": PassForm(initial={"quantity": standing}),
    }


def _lacking_gauge(rows: list[queries.Row]) -> dict[str, int]:
    """The first characteristic that nobody named a gauge for."""
    lacking = (row.characteristic.pk for row in rows if row.gauge is None and not row.limits.is_attribute)
    return {"characteristic": pk} if (pk := next(lacking, None)) else {}


def _of_nonconformances(here: Lot, user: User) -> dict[str, Any]:
    """What _nonconformances.html shows."""
    return {
        "nonconformances": queries.nonconformances(here),
        "may_dispose": may(user, Act.DISPOSE),
        "verdicts": Disposition.Verdict.choices,
    }


def yes_or_no() -> list[tuple[str, str]]:
    """What an attribute's cell offers."""
    return [("", "–"), ("yes", _("yes")), ("no", _("no"))]


@require_POST
def measure(request: HtmxRequest, lot_id: int, step_id: int) -> HttpResponse:
    """One value; htmx gets its cell back, a browser without JavaScript the whole page."""
    here, step = _lot_and_step(lot_id, step_id)
    form = ValueForm(request.POST)
    if not form.is_valid():
        return _refused(request, here, step, problems(form))
    characteristic = get_object_or_404(Characteristic, pk=form.cleaned_data["characteristic"], step=step)
    piece = form.cleaned_data["piece"]
    try:
        actions.measure(
            characteristic, here, piece, form.cleaned_data["value"], by=signed_in(request),
            gauge=form.cleaned_data["gauge"], key=request.POST.get("key") or None,
        )  # fmt: skip
    except CoreError as refusal:
        return _refused(request, here, step, str(refusal), characteristic, piece)
    if wants_part(request):
        return _cell(request, here, step, characteristic, piece)
    return redirect("inspection:lot", here.pk, step.pk)


def _cell(
    request: HttpRequest, here: Lot, step: Step, characteristic: Characteristic, piece: int, refusal: str = ""
) -> HttpResponse:
    context = {"lot": here, "step": step, "cell": queries.cell(characteristic, here, piece), "yes_or_no": yes_or_no()}
    typed = request.POST.get("value", "") if refusal else ""
    context |= {"refusal": refusal, "typed": typed, "open_points": queries.open_points(here, step), "is_part": True}
    context |= _of_nonconformances(here, signed_in(request))
    context["lot_url"] = reverse("inspection:lot", args=[here.pk, step.pk])
    return render(request, "inspection/_cell.html", context, status=422 if refusal else 200)


def _refused(
    request: HtmxRequest, here: Lot, step: Step, text: str, characteristic: Characteristic | None = None, piece: int = 0
) -> HttpResponse:
    if wants_part(request) and characteristic:
        return _cell(request, here, step, characteristic, piece, text)
    messages.error(request, text)
    return redirect("inspection:lot", here.pk, step.pk)


@require_POST
def gauge(request: HttpRequest, lot_id: int, step_id: int) -> HttpResponse:
    """Another gauge than the plan's for one characteristic of the lot."""
    here, step = _lot_and_step(lot_id, step_id)
    form = GaugeForm(request.POST, step=step, on=timezone.localdate())
    to = reverse("inspection:lot", args=[here.pk, step.pk])
    if not form.is_valid():
        refuse(request, _("Choose a balloon of this step and a gauge in calibration."), form)
        return redirect(to)
    by: Any = request.user
    chosen = form.cleaned_data
    return answer(
        request,
        lambda: actions.take_gauge(chosen["characteristic"], here, chosen["gauge"], by=by),
        done=_("From now on it is measured with this gauge."),
        to=to,
        form=form,
    )


@require_POST
def found(request: HttpRequest, lot_id: int, step_id: int) -> HttpResponse:
    """Something that no characteristic measures: a scratch, a burr."""
    here, step = _lot_and_step(lot_id, step_id)
    form = FoundForm(request.POST)
    to = reverse("inspection:lot", args=[here.pk, step.pk])
    if not form.is_valid():
        refuse(request, _("Say what was found."), form)
        return redirect(to)
    by: Any = request.user
    return answer(
        request,
        lambda: actions.raise_nonconformance(
            here, text=form.cleaned_data["text"], by=by, piece=form.cleaned_data["piece"]
        ),
        done=_("Noted. It needs a disposition before the lot goes on."),
        to=to,
        form=form,
    )


@require_POST
def place(request: HttpRequest, nonconformance_id: int) -> HttpResponse:
    """Say in which of two lots the piece of a nonconformance is."""
    nonconformance = get_object_or_404(Nonconformance.objects.select_related("lot"), pk=nonconformance_id)
    form = PlaceForm(request.POST, job=nonconformance.lot.job_id)
    to = _back(request)
    if not form.is_valid():
        refuse(request, _("Say in which of the two lots the piece is."), form)
        return redirect(to)
    by: Any = request.user
    return answer(
        request,
        lambda: actions.place(nonconformance, by=by, **form.cleaned_data),
        done=_("Noted."),
        to=to,
        form=form,
    )


def _back(request: HttpRequest) -> str:
    """The page of ours that a form was sent from."""
    to = request.POST.get("back", "")
    return to if to.startswith("/") and not to.startswith("//") else reverse("inspection:bench")


@require_POST
def dispose(request: HttpRequest, nonconformance_id: int) -> HttpResponse:
    nonconformance = get_object_or_404(Nonconformance.objects.select_related("lot__job"), pk=nonconformance_id)
    form = DispositionForm(request.POST)
    to = _back(request)
    if not form.is_valid():
        refuse(request, _("Choose a disposition and say why."), form)
        return redirect(to)
    by: Any = request.user
    return answer(
        request,
        lambda: actions.dispose(nonconformance, by=by, **form.cleaned_data),
        done=_("Decided."),
        to=to,
        form=form,
    )


@require_POST
def pass_pieces(request: HttpRequest, lot_id: int, step_id: int) -> HttpResponse:
    """Start the inspection step where nobody did yet, and count the pieces on to the next step."""
    here, step = _lot_and_step(lot_id, step_id)
    form = PassForm(request.POST)
    to = reverse("inspection:lot", args=[here.pk, step.pk])
    if not form.is_valid():
        refuse(request, _("Say how many pieces pass."), form)
        return redirect(to)
    by: Any = request.user
    key = request.POST.get("key") or None
    return answer(
        request,
        lambda: actions.pass_pieces(here, step, form.cleaned_data["quantity"], by=by, key=key),
        done=_("Counted on to the next step."),
        to=to,
        form=form,
    )
