"""Taking a job in, changing its order, the list of jobs."""

from __future__ import annotations

from django.core.paginator import Paginator
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from shopflow.jobs import actions, queries
from shopflow.jobs.actions.locked import locked
from shopflow.jobs.forms.intake import CustomerForm, FilterForm, OrderForm
from shopflow.jobs.models import Job
from shopflow.jobs.views.answers import done, me
from shopflow.people import queries as people
from shopflow.people.access import Act, may
from shopflow.people.pages import HtmxRequest, render_part

JOBS_A_PAGE = 50


@require_GET
def job_list(request: HtmxRequest) -> HttpResponse:
    form = FilterForm(request.GET or None)
    wanted = queries.JobFilter(**form.asked()) if form.is_valid() else queries.JobFilter()
    today = timezone.localdate()
    page = Paginator(queries.jobs_for(me(request), wanted, today=today), JOBS_A_PAGE).get_page(request.GET.get("page"))
    context = {
        "form": form,
        "page": page,
        "today": today,
        "is_filtered": wanted != queries.JobFilter(),
        "may_take_in": may(request.user, Act.EDIT_JOB),
    }
    return render_part(request, page="jobs/list.html", part="jobs/_list.html", context=context)


@require_http_methods(["GET", "POST"])
def new(request: HttpRequest) -> HttpResponse:
    form = OrderForm(request.POST or None)
    taken: list[Job] = []
    if request.method == "POST" and done(form, lambda: taken.append(actions.take_in(form.order(), by=me(request)))):
        return redirect(taken[0])
    context = {"form": form, "crumbs": [(reverse("jobs:list"), _("Jobs"))], "cancel_url": reverse("jobs:list")}
    return render(request, "jobs/order.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "POST"])
def edit(request: HttpRequest, job_id: int) -> HttpResponse:
    job = queries.job_for(me(request), job_id)
    form = OrderForm(initial=OrderForm.typed(job))
    if request.method == "POST":
        with transaction.atomic():
            locked(job)
            job = queries.job_for(me(request), job_id)
            form = OrderForm(request.POST, initial=OrderForm.typed(job))
            if _saved_order(request, job, form):
                return redirect(job)
    context = {"form": form, "job": job, "crumbs": crumbs_of(job), "cancel_url": job.get_absolute_url()}
    return render(request, "jobs/order.html", context, status=422 if form.errors or form.is_overtaken else 200)


def _saved_order(request: HttpRequest, job: Job, form: OrderForm) -> bool:
    """Unless somebody else saved it since the form was shown."""
    return form.settled(queries.last_by(job, "order_changed")) and done(
        form, lambda: actions.change_order(job, form.order(), by=me(request))
    )


@require_http_methods(["GET", "POST"])
def customer(request: HttpRequest, customer_id: int) -> HttpResponse:
    row = queries.customer_for(me(request), customer_id)
    form = CustomerForm(initial={"name": row.name, "address": row.address})
    if request.method == "POST":
        with transaction.atomic():
            row = queries.customer_for(me(request), customer_id, lock=True)
            form = CustomerForm(request.POST, initial={"name": row.name, "address": row.address})
            saved_by = people.last_to(["customer_changed"], subject=("customer", row.pk))
            if form.settled(saved_by) and done(
                form, lambda: actions.change_customer(row, by=me(request), **form.cleaned_data)
            ):
                return redirect("jobs:list")
    context = {"form": form, "crumbs": [(reverse("jobs:list"), _("Jobs"))], "cancel_url": reverse("jobs:list")}
    return render(request, "jobs/customer.html", context, status=422 if form.errors or form.is_overtaken else 200)


def crumbs_of(job: Job) -> list[tuple[str, str]]:
    return [(reverse("jobs:list"), _("Jobs")), (job.get_absolute_url(), job.number)]
