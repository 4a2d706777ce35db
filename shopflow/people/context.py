"""What every page may name without its view handing it over."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest

from shopflow.people import queries, refused_forms


def shop(request: HttpRequest) -> dict[str, Callable[[], object]]:
    """The shop's name, and what a refused form was sent with; read only where a template shows them."""
    return {
        "shop_name": lambda: queries.shop_settings().name,
        "refused_form": lambda: refused_forms.take(request),
    }
