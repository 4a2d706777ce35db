"""How strict one characteristic of a part is sampled, from lot to lot."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from shopflow.core.errors import CoreError
from shopflow.core.quality.sampling import Severity, single
from shopflow.inspection import switching, switching_actions
from shopflow.inspection.forms import SeverityForm
from shopflow.jobs.models import Characteristic
from shopflow.people.access import Act, may
from shopflow.people.sessions import signed_in


@require_http_methods(["GET", "POST"])
def sampling(request: HttpRequest, characteristic_id: int) -> HttpResponse:
    rows = Characteristic.objects.select_related("job__revision__part__customer", "step")
    row = get_object_or_404(rows, pk=characteristic_id)
    if not switching.is_switched(row):
        raise Http404(_("This characteristic is not sampled by an AQL."))
    form = SeverityForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and _said(request, row, form):
        messages.success(request, _("Noted. It holds from the next lot that is begun."))
        return redirect("inspection:sampling", row.pk)
    now = switching.standing_of(row)
    context = {
        "characteristic": row,
        "job": row.job,
        "standing": now,
        "plan": single(row.job.quantity, row.rule.aql, row.rule.level, now.severity),
        "is_stopped": now.severity is Severity.STOPPED,
        "results": switching.results_of(row),
        "words": switching.words_of(row),
        "form": form,
        "may_say": may(request.user, Act.DISPOSE),
        "crumbs": [(reverse("inspection:bench"), _("Inspection bench")), (row.job.get_absolute_url(), row.job.number)],
    }
    return render(request, "inspection/sampling.html", context, status=422 if form.errors else 200)


def _said(request: HttpRequest, row: Characteristic, form: SeverityForm) -> bool:
    if not form.is_valid():
        return False
    severity, reason = Severity(form.cleaned_data["severity"]), form.cleaned_data["reason"]
    try:
        switching_actions.say_severity(row, severity, reason=reason, by=signed_in(request))
    except CoreError as refusal:
        form.add_error(None, str(refusal))
        return False
    return True
