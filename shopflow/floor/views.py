"""Pages for machines and benches: what waits there, and one op of one lot."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from uuid import uuid4

from django import forms
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from shopflow.floor import (
    actions,
    as_run,
    as_run_actions,
    proving,
    queries,
    read_back_actions,
    read_backs,
    scanning,
    tool_use,
)
from shopflow.floor.as_run_forms import AsRunForm, PhotoForm
from shopflow.floor.delivery import deliver, is_from_device, key_of, refused
from shopflow.floor.forms import (
    REASONS,
    THE_PROGRAM,
    AsideForm,
    CountForm,
    EdgesForm,
    NoteForm,
    ReworkForm,
    SplitForm,
    StartForm,
)
from shopflow.floor.models import FloorCopy, Lot, OpRun, Packet, Place
from shopflow.floor.stations import all_stations, station_for, station_of_step
from shopflow.jobs.models import Step
from shopflow.jobs.views.answers import me
from shopflow.people import kept_files
from shopflow.people.access import Act, may
from shopflow.people.answers import problems, refuse
from shopflow.people.models import User
from shopflow.people.pages import HtmxRequest, render_part
from shopflow.programs.queries import Reviewed
from shopflow.shop import tool_life


@require_GET
def stations(request: HttpRequest) -> HttpResponse:
    """Pick the machine or bench one stands at."""
    return render(request, "floor/stations.html", {"stations": all_stations()})


@require_GET
def station(request: HtmxRequest, key: str) -> HttpResponse:
    """What waits at one machine or bench."""
    here = station_for(key)
    if here is None:
        raise Http404
    context = {"station": here, "waiting": here.waiting()}
    return render_part(request, page="floor/station.html", part="floor/_waiting.html", context=context)


@require_GET
def op(request: HtmxRequest, lot_id: int, step_id: int) -> HttpResponse:
    """One op of one lot: start, first piece, count, set aside, finish."""
    lot, step = lot_and_step(lot_id, step_id)
    return render_part(
        request, page="floor/op.html", part="floor/_op.html", context=_op_context(lot, step, me(request))
    )


def lot_and_step(lot_id: int, step_id: int) -> tuple[Lot, Step]:
    lot = get_object_or_404(Lot.objects.select_related("job__revision__part__customer", "job__material"), pk=lot_id)
    step = get_object_or_404(Step.objects.select_related("setup__machine", "job"), pk=step_id, job=lot.job_id)
    return lot, step


def _op_context(lot: Lot, step: Step, user: User, **forms_sent: forms.Form) -> dict[str, Any]:
    run, copy, prove_out = queries.open_run(lot, step), queries.floor_copy_of(step), queries.prove_out_copy_of(step)
    returned = read_backs.of_op(lot, step) if copy else []
    seen = Reviewed(copy.revision) if copy else None
    standing = queries.standing_at(lot, step)
    return {
        "lot": lot,
        "job": lot.job,
        "step": step,
        "run": run,
        "copy": copy,
        "prove_out": prove_out,
        "station": station_of_step(step),
        "standing": standing,
        "aside": queries.aside_at(lot, step),
        "start_problem": "" if run else queries.start_problem(lot.job, step, lot, seen=seen),
        "count_problem": queries.count_problem(run) if run else "",
        "edge_sheet": queries.edge_sheet(lot, step) if step.kind == Step.Kind.DEBURR else None,
        "lapse": queries.lapse_of(copy, seen=seen) if run and copy else "",
        "following": queries.next_step(step),
        "packet": queries.packet_of(lot.job),
        "key": uuid4().hex,
        "start_form": StartForm(copy=copy, prove_out=prove_out, is_setup=step.setup_id is not None),
        "edges_form": EdgesForm(),
        "drawers": _drawers(lot, step),
        "setting_up": queries.setting_up(lot, step) if step.setup and not run else None,
        "may_set_up": step.setup is not None and run is None and queries.standing_up_to(lot, step) > 0,
        "read_backs": returned,
        "wants_read_back": run is not None and read_backs.is_wanted(run, returned),
        "may_report": may(user, Act.MEASURE),
        "reasons": REASONS,
        "setup_tools": tool_use.tools_of(step, standing, seen=seen),
        "edge_words": list(tool_life.EDGES.items()) if may(user, Act.RUN) else [],
        "op_url": reverse("floor:op", args=[lot.pk, step.pk]),
        **(_as_run_context(lot, step, user) if step.setup else {}),
        **forms_sent,
    }


def _as_run_context(lot: Lot, step: Step, user: User) -> dict[str, Any]:
    """For floor/_as_run.html: what was noted, what was set the last time, and the forms for who may."""
    return {
        "records": as_run.of_op(lot, step),
        "last_time": as_run.last_time(step),
        "as_run_wanted": as_run.is_asked_for(step) and not as_run.is_noted(lot, step),
        "may_note": may(user, Act.RUN),
        "as_run_form": AsRunForm(setup=step.setup, units=user.units, auto_id="as_run_%s"),
        "photo_form": PhotoForm(auto_id="photo_%s"),
    }


@dataclass(frozen=True)
class Drawer:
    """One thing that may be reported beside the usual way: the word, what it does, its form."""

    what: str
    word: str
    form: forms.Form
    text: str = ""
    place: str = ""
    is_danger: bool = False


def _drawers(lot: Lot, step: Step) -> list[Drawer]:
    def form(kind: type[forms.Form], what: str, **more: Any) -> forms.Form:
        return kind(auto_id=f"{what}_%s", **more)

    earlier = lot.job.steps.filter(op_number__lt=step.op_number)
    drawers = [
        Drawer("scrap", _("Scrap"), form(AsideForm, "scrap"), _("These pieces will never ship."), is_danger=True),
        Drawer("hold", _("Hold pieces"), form(AsideForm, "hold"), _("Set aside until somebody decides.")),
        Drawer(
            "split",
            _("Split the lot"),
            form(SplitForm, "split", lot=lot),
            _("These pieces go on alone, as a lot of their own."),
        ),
        Drawer("lose", _("Fewer than counted"), form(AsideForm, "lose"), _("Pieces that are not there.")),
        Drawer("add", _("More than counted"), form(AsideForm, "add"), _("Pieces that were never counted in.")),
        Drawer("outside", _("Send outside"), form(AsideForm, "outside"), _("To another firm for this op.")),
        Drawer("note", _("Note"), form(NoteForm, "note")),
    ]
    if earlier.exists():
        drawers.insert(2, Drawer("rework", _("Rework"), form(ReworkForm, "rework", steps=earlier)))
    for spot in queries.aside_at(lot, step):
        if spot.place != Place.SHIPPED:
            word = _("Back from %(place)s") % {"place": spot.get_place_display()}
            drawers.append(Drawer("back", word, form(CountForm, f"back_{spot.place}"), place=spot.place))
    return drawers


@require_POST
def start(request: HttpRequest, lot_id: int, step_id: int) -> HttpResponse:
    lot, step = lot_and_step(lot_id, step_id)
    copy = queries.floor_copy_of(step)
    prove_out = queries.prove_out_copy_of(step)
    form = StartForm(request.POST, copy=copy, prove_out=prove_out, is_setup=step.setup_id is not None)
    if not form.is_valid():
        if is_from_device(request):
            return refused(problems(form), 422)
        return render(request, "floor/op.html", _op_context(lot, step, me(request), start_form=form), status=422)
    machine = step.setup.machine if step.setup else None
    return deliver(
        request,
        lambda: actions.start(
            lot, step, by=me(request), machine=machine, compared=form.compared,
            confirmed=form.cleaned_data.get("checks", ()), key=key_of(request),
        ),
        lot=lot,
        done=_("Op %(op)s is started.") % {"op": step.op_number},
        to=op_url(lot, step),
    )  # fmt: skip


def op_url(lot: Lot, step: Step) -> str:
    return reverse("floor:op", args=[lot.pk, step.pk])


ASIDE = {
    "scrap": actions.scrap,
    "hold": actions.hold,
    "lose": actions.lose,
    "outside": actions.send_outside,
    "add": actions.add,
}


@require_POST
def report(request: HttpRequest, lot_id: int, step_id: int, what: str) -> HttpResponse:
    """Every other report from a station; `what` names it."""
    lot, step = lot_and_step(lot_id, step_id)
    run = queries.open_run(lot, step)
    form = _report_form(what, request, lot, step)
    if not form.is_valid():
        if is_from_device(request):
            return refused(problems(form), 422)
        if what == "as-run":  # many fields: what was typed stays
            context = _op_context(lot, step, me(request), as_run_form=form)
            return render(request, "floor/op.html", context, status=422)
        refuse(request, problems(form), form)
        return redirect(op_url(lot, step))
    return deliver(
        request,
        lambda: _act(what, request, lot, step, run, form),
        lot=lot,
        done=_("Noted."),
        to=op_url(lot, step),
        form=form,
    )


def _report_form(what: str, request: HttpRequest, lot: Lot, step: Step) -> forms.Form:
    if what == "rework":
        return ReworkForm(request.POST, steps=lot.job.steps.filter(op_number__lt=step.op_number))
    if what in ASIDE:
        return AsideForm(request.POST)
    if what == "split":
        return SplitForm(request.POST, lot=lot)
    if what == "as-run":
        return AsRunForm(request.POST, setup=step.setup, units=me(request).units, auto_id="as_run_%s")
    by_name: dict[str, type[forms.Form]] = {
        "good": CountForm, "back": CountForm, "note": NoteForm, "edges": EdgesForm,
        "first-piece": forms.Form, "changed": forms.Form, "finish": forms.Form,
        "set-up": forms.Form, "set-up-anew": forms.Form,
    }  # fmt: skip
    if what not in by_name:
        raise Http404
    return by_name[what](request.POST)


def _act(what: str, request: HttpRequest, lot: Lot, step: Step, run: OpRun | None, form: forms.Form) -> object:
    by, key, typed = me(request), key_of(request), form.cleaned_data
    if isinstance(form, AsRunForm):
        return as_run_actions.note(lot, step, form.was_set(), by=by, key=key)
    if what == "scrap":
        cause = proving.PROGRAM if typed["reason"].strip().casefold() == str(THE_PROGRAM).casefold() else ""
        return actions.scrap(lot, step, typed["quantity"], reason=typed["reason"], by=by, key=key, cause=cause)
    if what in ASIDE:
        return ASIDE[what](lot, step, typed["quantity"], reason=typed["reason"], by=by, key=key)
    if what == "rework":
        return actions.rework(lot, step, typed["back_to"], typed["quantity"], reason=typed["reason"], by=by, key=key)
    if what == "split":
        return actions.split(lot, step, typed["quantity"], by=by, key=key, heat=typed.get("heat", ""))
    if what == "back":
        place = Place(request.POST.get("place", Place.HELD))
        return actions.bring_back(lot, step, typed["quantity"], place, by=by, key=key)
    if what in ("set-up", "set-up-anew"):
        return actions.begin_setting_up(lot, step, by=by, key=key, anew=what == "set-up-anew")
    if what == "note":
        return actions.note(lot, step, typed["text"], by=by, key=key)
    return _act_on_run(what, run, by, key, typed, step)


def _act_on_run(what: str, run: OpRun | None, by: Any, key: str | None, typed: dict[str, Any], step: Step) -> object:
    if run is None:
        raise actions.NotNow(_("Start op %(op)s first.") % {"op": step.op_number})
    if what == "good":
        return actions.count_good(run, typed["quantity"], by=by, key=key)
    if what == "first-piece":
        return actions.accept_first_piece(run, by=by, key=key)
    if what == "changed":
        return read_back_actions.say_changed(run, by=by, key=key)
    if what == "edges":
        return actions.sign_edges(run, exceptions=typed["exceptions"], by=by, key=key)
    return actions.finish(run, by=by, key=key)


@require_GET
def scan(request: HttpRequest, packet_id: int, step_id: int) -> HttpResponse:
    """What the code on a traveler opens: the op, or word that the paper is superseded."""
    packet = get_object_or_404(Packet.objects.select_related("job"), pk=packet_id)
    step = get_object_or_404(Step, pk=step_id, job=packet.job_id)
    newest = queries.packet_of(packet.job)
    if newest and newest.pk != packet.pk:
        return render(
            request, "floor/superseded.html", {"packet": packet, "newest": newest, "step": step, "job": packet.job}
        )
    lots = queries.lots_at(step) or list(queries.lots_of(packet.job))
    if len(lots) == 1:
        return redirect(op_url(lots[0], step))
    return render(request, "floor/pick_lot.html", {"lots": lots, "step": step, "job": packet.job})


@require_GET
def scanned(request: HttpRequest) -> HttpResponse:
    """Open what a code names; a code that is not ours is said, and nothing is opened."""
    try:
        found = scanning.read(request.GET.get("code", ""), host=request.get_host())
    except scanning.NotOurs as refusal:
        messages.error(request, str(refusal))
        return redirect("floor:stations")
    if found.elsewhere:
        messages.warning(
            request,
            _(
                "This code was printed under another address (%(host)s), as before the shop's address changed. Compare "
                "job and op here with the paper before you go on."
            )
            % {"host": found.elsewhere},
        )
    return redirect(found.path)


@require_GET
def copy(request: HttpRequest, copy_id: int) -> HttpResponseBase:
    """The floor copy's exact bytes, to be loaded into the machine."""
    found = get_object_or_404(FloorCopy.objects.select_related("stored", "packet"), pk=copy_id)
    return kept_files.sent(found.stored, found.file_name, media_type=kept_files.PLAIN)
