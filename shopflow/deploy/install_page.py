"""What the plain-http port of a shop on its network answers: the certificate to install, and the way to https."""

from __future__ import annotations

import os
from pathlib import Path
from urllib.parse import urlsplit

from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding
from django.conf import settings
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import path, re_path
from django.views.decorators.http import require_safe

from shopflow.deploy import authority

AUTHORITY_FILE = Path(os.environ.get("LAN_AUTHORITY", settings.DATA_DIR / "lan" / "authority.pem"))
INSTALLABLE = "application/x-x509-ca-cert"


def _authority() -> x509.Certificate:
    return x509.load_pem_x509_certificate(AUTHORITY_FILE.read_bytes())


def _secure(request: HttpRequest) -> str:
    """The https address under the name that this device used, which the certificate says, too."""
    port = urlsplit(settings.SITE_URL).port
    return f"https://{request.get_host().rpartition(':')[0] or request.get_host()}" + (f":{port}" if port else "")


@require_safe
def page(request: HttpRequest) -> HttpResponse:
    certificate = _authority()
    context = {
        "fingerprint": authority.fingerprint_lines(certificate),
        "name": certificate.subject.rfc4514_string().removeprefix("CN="),
        "until": certificate.not_valid_after_utc,
        "secure": _secure(request),
    }
    return render(request, "deploy/install.html", context)


@require_safe
def as_der(request: HttpRequest) -> HttpResponse:
    return HttpResponse(_authority().public_bytes(Encoding.DER), content_type=INSTALLABLE)


@require_safe
def as_pem(request: HttpRequest) -> HttpResponse:
    return HttpResponse(_authority().public_bytes(Encoding.PEM), content_type="application/x-pem-file")


def onwards(request: HttpRequest, rest: str) -> HttpResponse:
    """Everything else is to be asked for under https. Not for ever (302): browsers would keep it beyond this shop."""
    return HttpResponseRedirect(_secure(request) + request.get_full_path())


urlpatterns = [
    path("", page, name="install"),
    path("shop-network.crt", as_der, name="install_der"),
    path("shop-network.pem", as_pem, name="install_pem"),
    re_path(r"^(?P<rest>.+)$", onwards, name="onwards"),
]
