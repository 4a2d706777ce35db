"""Sessions at a station: short, slid on by use, ended with the badge."""

from __future__ import annotations

from collections.abc import Callable
from typing import cast

from django.contrib.auth import login, logout
from django.http import HttpRequest, HttpResponse

from shopflow.people.models import User

STATION_SECONDS = 20 * 60
BADGE = "station_badge"


def signed_in(request: HttpRequest) -> User:
    """Who asks; past the middlewares of log-in and access it is somebody."""
    return cast(User, request.user)


def log_in_at_desk(request: HttpRequest, user: User) -> None:
    login(request, user, backend="django.contrib.auth.backends.ModelBackend")
    request.session.pop(BADGE, None)
    request.session.set_expiry(None)


def log_in_at_station(request: HttpRequest, user: User) -> None:
    """A session for a shared device: it ends after twenty minutes without use, and with the badge itself."""
    login(request, user, backend="django.contrib.auth.backends.ModelBackend")
    request.session[BADGE] = user.badge_digest
    request.session.set_expiry(STATION_SECONDS)


class StationSessionMiddleware:
    """Marks people who came by badge, keeps their session alive while somebody works, and ends it with the badge."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if BADGE in request.session and request.user.is_authenticated:
            user = request.user
            if request.session[BADGE] != user.badge_digest:
                logout(request)
            else:
                user.is_at_station = True
                request.session.modified = request.session.modified or is_use(request)
        return self.get_response(request)


def is_use(request: HttpRequest) -> bool:
    """Whether a person did something. A page that asks every second whether anything changed is no use."""
    asks_for_page = "text/html" in request.headers.get("Accept", "") and "HX-Request" not in request.headers
    return request.method == "POST" or asks_for_page
