"""How every form of this app is answered."""

from __future__ import annotations

from collections.abc import Callable
from typing import cast
from urllib.parse import urlsplit

from django.contrib import messages
from django.forms import BaseForm
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse

from shopflow.core.errors import CoreError
from shopflow.jobs.models import Job
from shopflow.people.answers import refuse
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


def back_to(request: HttpRequest, job: Job, page: str) -> HttpResponse:
    """After a form: the job's own page where it stood there, else the page of this app that shows the same."""
    came_from = urlsplit(request.headers.get("Referer", "")).path
    return redirect(job if came_from == job.get_absolute_url() else reverse(f"jobs:{page}", args=[job.pk]))


def said(request: HttpRequest, form: BaseForm) -> None:
    """Say a small form's errors above the page, with what was typed into it."""
    for errors in form.errors.values():
        for error in errors:
            refuse(request, str(error), form)
