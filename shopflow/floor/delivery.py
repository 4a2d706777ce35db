"""How a report reaches the floor's actions: from the page's form, or from the list that a device keeps.

A device asks for JSON and gets the sentence that a page would show: 200 done, 409 or 422 refused, 403 not this person.
Sent again with its key, a report is done and not done twice, whatever became of the op since.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.forms import BaseForm
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.utils import timezone
from django.utils.dateparse import parse_datetime
from django.utils.translation import gettext as _

from shopflow.core.errors import CoreError
from shopflow.floor import reported
from shopflow.floor.models import Lot
from shopflow.people import answers
from shopflow.records import ledger


class SaidOtherwise(CoreError):
    """A key came a second time with another content: a page that was sent, gone back to and changed."""


def key_of(request: HttpRequest) -> str | None:
    """The idempotency key that the page gave out, or the device made; a report without one simply counts."""
    key = request.POST.get("key", "")
    return key if 8 <= len(key) <= 100 else None


def is_from_device(request: HttpRequest) -> bool:
    return request.headers.get("Accept", "") == "application/json"


def deliver(
    request: HttpRequest, act: Callable[[], object], *, lot: Lot, done: str, to: str, form: BaseForm | None = None
) -> HttpResponse:
    """Run the action and say how it went, in the way that was asked for. form: what was typed, not lost if refused."""
    if not is_from_device(request):
        return answers.answer(request, lambda: _once(act), done=done, to=to, form=form)
    if _is_counted(request, lot):
        return _done(request, _("Counted already."))
    if request.POST.get("made_by") != str(request.user.pk):
        return refused(_("Another person made this report. It waits for their log-in."), 403)
    said = _made_at(request)
    try:
        with reported.made_at(said):
            _once(act)
    except CoreError as refusal:
        return refused(str(refusal), 409)
    except PermissionDenied as refusal:
        return refused(str(refusal), 403)
    return _done(request, done, clock=_doubt(said))


def refused(sentence: str, status: int) -> JsonResponse:
    return JsonResponse({"refused": sentence}, status=status)


def _done(request: HttpRequest, sentence: str, clock: str = "") -> JsonResponse:
    """A page that waits for the answer is loaded again by its script, and says it then."""
    if request.POST.get("at_once"):
        messages.success(request, sentence)
    if clock:
        messages.warning(request, clock)
    return JsonResponse({"done": sentence})


def _once(act: Callable[[], object]) -> None:
    try:
        act()
    except ledger.KeyReused as error:
        raise SaidOtherwise(
            _("This form was sent before, with something else in it. Load the page again and report anew.")
        ) from error


def _is_counted(request: HttpRequest, lot: Lot) -> bool:
    key = key_of(request)
    row = ledger.find(key) if key else None
    return bool(row and row.by_id == request.user.pk and row.subject == ("lot", lot.pk))


def _made_at(request: HttpRequest) -> datetime | None:
    try:
        said = parse_datetime(request.POST.get("made_at", ""))
    except ValueError:
        return None
    return said if said and said.tzinfo else None


def _doubt(said: datetime | None) -> str:
    if said is None or reported.can_be_true(said, arrived=timezone.now()):
        return ""
    return _("The clock of this device must be wrong: the report counts with the time at which it arrived.")
