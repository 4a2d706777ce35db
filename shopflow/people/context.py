"""What every page may name without its view handing it over."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest

from shopflow.people import queries


def shop(request: HttpRequest) -> dict[str, Callable[[], str]]:
    """The shop's name, read only where a template shows it."""
    return {"shop_name": lambda: queries.shop_settings().name}
