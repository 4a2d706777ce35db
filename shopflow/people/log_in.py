"""Proving who somebody is: by name and password at a desk, by badge and PIN at a station. Failures slow both down."""

from __future__ import annotations

import math
from datetime import timedelta

from django.contrib.auth import authenticate
from django.contrib.auth.hashers import check_password, make_password
from django.db import transaction
from django.http import HttpRequest
from django.utils import timezone
from django.utils.crypto import constant_time_compare, salted_hmac
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from shopflow.people.models import FailedTries, User

FREE_TRIES = 5
LONGEST_WAIT = timedelta(hours=1)
FORGOTTEN_AFTER = timedelta(days=1)


class LogInRefused(Exception):
    """Who this is was not proved; the text tells the person why and what to do."""


def badge_digest(code: str) -> str:
    """What is kept of a badge's code: keyed by the shop's secret key, so that a copied database opens nothing."""
    return salted_hmac("shopflow.people.badge", code.strip().upper(), algorithm="sha256").hexdigest()


def by_password(request: HttpRequest, *, username: str, password: str) -> User:
    """The person of this name and password, or LogInRefused."""
    key = _key("password", username.lower(), _address(request))
    _refuse_while_waiting(key)
    user = authenticate(request, username=username, password=password)
    if not isinstance(user, User):
        raise LogInRefused(_failed(key, _("The user name and the password do not belong together.")))
    FailedTries.objects.filter(key=key).delete()
    return user


def by_badge(request: HttpRequest, *, code: str, pin: str) -> User:
    """The person of this badge and PIN, or LogInRefused. An unknown badge is told like a wrong PIN."""
    user = User.objects.filter(badge_digest=badge_digest(code), is_active=True).first()
    key = _key("pin", str(user.pk)) if user else _key("badge", _address(request))
    _refuse_while_waiting(key)
    if user is None or not user.pin_hash or not check_password(pin, user.pin_hash):
        if user is None:
            make_password(pin)  # the same time as for a known badge
        raise LogInRefused(
            _failed(key, _("This badge and PIN do not belong together. A PIN is set on your own page, at a desk."))
        )
    FailedTries.objects.filter(key=key).delete()
    return user


def prove_again(user: User, *, secret: str, address: str = "") -> str:
    """Prove once more, at the moment of signing, that somebody who is logged in is still the one at the keys.

    secret: the password, or the code of the person's own badge as a scanner types it. Gives back which it was,
    "password" or "badge". Counts a failure in a transaction of its own: call it outside one that a refusal rolls back.
    Raises LogInRefused.
    """
    key = _key("again", str(user.pk), address)
    _refuse_while_waiting(key)
    how = "badge" if _is_badge_of(user, secret) else "password" if user.check_password(secret) else ""
    if not how:
        raise LogInRefused(_failed(key, _("That is neither your password nor the code of your badge.")))
    FailedTries.objects.filter(key=key).delete()
    return how


def _is_badge_of(user: User, code: str) -> bool:
    return bool(user.badge_digest) and constant_time_compare(badge_digest(code), user.badge_digest or "")


def _address(request: HttpRequest) -> str:
    return str(request.META.get("REMOTE_ADDR", ""))


def _key(*parts: str) -> str:
    """One short key for what was tried; the name itself is not kept, since people type passwords into it."""
    return salted_hmac("shopflow.people.tries", "\n".join(parts), algorithm="sha256").hexdigest()


def _wait_after(failures: int) -> timedelta:
    """Nothing for the first tries, then one minute, doubled by each further failure up to an hour."""
    if failures < FREE_TRIES:
        return timedelta()
    return min(timedelta(minutes=2 ** min(failures - FREE_TRIES, 10)), LONGEST_WAIT)


def _refuse_while_waiting(key: str) -> None:
    tries = FailedTries.objects.filter(key=key).first()
    if tries is None:
        return
    left = tries.last_at + _wait_after(tries.count) - timezone.now()
    if left > timedelta():
        raise LogInRefused(_too_often(left))


def _too_often(left: timedelta) -> str:
    minutes = math.ceil(left.total_seconds() / 60)
    return ngettext(
        "That failed too often. Wait %(minutes)d minute, then try again; a lead can set a new password.",
        "That failed too often. Wait %(minutes)d minutes, then try again; a lead can set a new password.",
        minutes,
    ) % {"minutes": minutes}


@transaction.atomic
def _failed(key: str, reason: str) -> str:
    """Count the failure and give back what to say."""
    now = timezone.now()
    FailedTries.objects.filter(last_at__lt=now - FORGOTTEN_AFTER).delete()
    FailedTries.objects.get_or_create(key=key, defaults={"last_at": now})
    tries = FailedTries.objects.select_for_update().get(key=key)
    tries.count, tries.last_at = tries.count + 1, now
    tries.save(update_fields=["count", "last_at"])
    wait = _wait_after(tries.count)
    return f"{reason} {_too_often(wait)}" if wait else reason
