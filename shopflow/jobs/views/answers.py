"""How every form of this app is answered."""

from __future__ import annotations

from collections.abc import Callable
from typing import cast

from django.contrib import messages
from django.forms import BaseForm
from django.http import HttpRequest

from shopflow.core.errors import CoreError
from shopflow.people.models import User


def me(request: HttpRequest) -> User:
    """The person who asks; behind the middlewares of log-in and access it is somebody."""
    return cast(User, request.user)


def done(form: BaseForm, do: Callable[[], object]) -> bool:
    """Do it where the form is sound; what the action refuses becomes an error of the form."""
    if not form.is_valid():
        return False
    try:
        do()
    except CoreError as refusal:
        form.add_error(None, str(refusal))
        return False
    return True


def attempted(request: HttpRequest, do: Callable[[], object]) -> bool:
    """Do it, or say above the page why it was refused."""
    try:
        do()
    except CoreError as refusal:
        messages.error(request, str(refusal))
        return False
    return True


def said(request: HttpRequest, form: BaseForm) -> None:
    """Say a small form's errors above the page, for forms that hold nothing worth keeping."""
    for errors in form.errors.values():
        for error in errors:
            messages.error(request, str(error))
