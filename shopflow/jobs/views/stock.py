"""What the blanks of a job come from."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.forms import BaseForm
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from shopflow.jobs import actions, queries, stock_page
from shopflow.jobs import saw_list as saw_page
from shopflow.jobs.forms.stock import CountedForm, DropsForm, HereForm, InsteadForm, SawnForm, TakeForm
from shopflow.jobs.models import BarPick, Job
from shopflow.jobs.views.answers import attempted, done, me, said
from shopflow.jobs.views.plan import plan_crumbs


@require_GET
def stock(request: HttpRequest, job_id: int) -> HttpResponse:
    return _page(request, queries.job_for(me(request), job_id))


@require_POST
def take(request: HttpRequest, job_id: int) -> HttpResponse:
    job = queries.job_for(me(request), job_id)
    form = TakeForm(request.POST)
    if done(form, lambda: actions.take_stock(job, form.cleaned_data["key"], by=me(request))):
        messages.success(request, _("The bars are reserved for this job."))
    said(request, form)
    return redirect("jobs:stock", job.pk)


@require_POST
def give_back(request: HttpRequest, job_id: int) -> HttpResponse:
    job = queries.job_for(me(request), job_id)
    attempted(request, lambda: actions.give_back(job, by=me(request)))
    return redirect("jobs:stock", job.pk)


@require_POST
def supplied(request: HttpRequest, job_id: int) -> HttpResponse:
    job = queries.job_for(me(request), job_id)
    is_supplied = request.POST.get("by") == "customer"
    attempted(request, lambda: actions.supply_blanks(job, by=me(request), is_supplied=is_supplied))
    return redirect("jobs:stock", job.pk)


@require_POST
def counted(request: HttpRequest, job_id: int) -> HttpResponse:
    job = queries.job_for(me(request), job_id)
    form = CountedForm(request.POST)
    if done(form, lambda: actions.count_in(job, by=me(request), **form.cleaned_data)):
        return redirect("jobs:stock", job.pk)
    return _page(request, job, counted_form=form)


@require_POST
def drops(request: HttpRequest, job_id: int) -> HttpResponse:
    job = queries.job_for(me(request), job_id)
    form = DropsForm(request.POST)
    if done(form, lambda: actions.return_drops(job, by=me(request), **form.cleaned_data)):
        return redirect("jobs:stock", job.pk)
    return _page(request, job, drops_form=form)


@require_POST
def instead(request: HttpRequest, job_id: int) -> HttpResponse:
    job = queries.job_for(me(request), job_id)
    form = InsteadForm(request.POST)
    if done(form, lambda: actions.ask_substitution(job, by=me(request), **form.cleaned_data)):
        messages.success(request, _("The question is noted. Its answer is written down in the intake."))
        return redirect("jobs:stock", job.pk)
    return _page(request, job, instead_form=form)


@require_POST
def here(request: HttpRequest, pick_id: int) -> HttpResponse:
    pick = _pick(request, pick_id)
    form = HereForm(request.POST)
    done(form, lambda: actions.receive_bars(pick, by=me(request), **form.cleaned_data))
    said(request, form)
    return redirect("jobs:stock", pick.job_id)


@require_POST
def sawn(request: HttpRequest, pick_id: int) -> HttpResponse:
    pick = _pick(request, pick_id)
    form = SawnForm(request.POST, unit=me(request).units)
    if done(form, lambda: actions.saw(pick, by=me(request), **form.cleaned_data)):
        return redirect("jobs:stock", pick.job_id)
    return _page(request, pick.job, sawn_form=form, sawn_pick=pick.pk)


@require_GET
def saw_list(request: HttpRequest) -> HttpResponse:
    """All that waits to be sawn, of all jobs."""
    return render(request, "jobs/saw_list.html", saw_page.context(me(request)))


@require_POST
def bar_sawn(request: HttpRequest, pick_id: int) -> HttpResponse:
    """Bars with the pieces of all jobs that share them."""
    pick = _pick(request, pick_id)
    form = SawnForm(request.POST, unit=me(request).units, auto_id=f"bar-{pick_id}-%s")
    if done(form, lambda: actions.saw_all(pick, by=me(request), **form.cleaned_data)):
        messages.success(request, _("Sawn: %s left the rack.") % pick)
        return redirect("jobs:saw_list")
    context = saw_page.context(me(request), refused=form, refused_pick=pick.pk)
    return render(request, "jobs/saw_list.html", context, status=422)


@require_POST
def lay_together(request: HttpRequest) -> HttpResponse:
    """Blanks of several jobs into fewer bars, as the list offered it."""
    form = TakeForm(request.POST)
    if done(form, lambda: actions.lay_together(form.cleaned_data["key"], by=me(request))):
        messages.success(request, _("Laid so: the bars that stay whole are free again."))
    said(request, form)
    return redirect("jobs:saw_list")


def _pick(request: HttpRequest, pick_id: int) -> BarPick:
    pick = get_object_or_404(BarPick.objects.select_related("bar"), pk=pick_id)
    pick.job = queries.job_for(me(request), pick.job_id)
    return pick


def _page(request: HttpRequest, job: Job, **shown: Any) -> HttpResponse:
    context = {"job": job, "crumbs": plan_crumbs(job), **stock_page.context(job, me(request)), **shown}
    is_refused = any(form.errors for form in shown.values() if isinstance(form, BaseForm))
    return render(request, "jobs/stock.html", context, status=422 if is_refused else 200)
