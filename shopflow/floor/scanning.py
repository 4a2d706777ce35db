"""What a scanned code opens: the pages that our own papers name, and nothing that anybody else printed."""

from __future__ import annotations

from urllib.parse import urlsplit

from django.conf import settings
from django.urls import Resolver404, resolve
from django.utils.translation import gettext as _

from shopflow.core.errors import CoreError

OPENS = {"floor:scan", "floor:op", "papers:scan", "papers:scan_traveler", "workflow:job"}
LONGEST = 300


class NotOurs(CoreError):
    """A code that leads to no page of this shop; the text says what was read."""


def path_of(code: str, *, host: str) -> str:
    """The path on this site that a code names. host: the name under which this page was asked for."""
    code = code.strip()
    try:
        parts = urlsplit(code[:LONGEST])
        asked, is_web = parts.hostname or "", parts.scheme in ("http", "https")
    except ValueError:
        asked, is_web = "", False
    if not is_web or asked not in our_hosts(host):
        raise NotOurs(
            _("“%(code)s” is no code of this shop's papers. Scan the one beside the op.") % {"code": code[:80]}
        )
    try:
        name = resolve(parts.path).view_name
    except Resolver404:
        name = ""
    if name not in OPENS:
        raise NotOurs(_("“%(code)s” leads to no op and no paper.") % {"code": code[:80]})
    return parts.path


def our_hosts(host: str) -> set[str]:
    """Names under which this shop is or may be known: codes carry SITE_URL's, people may have typed another."""
    site = urlsplit(settings.SITE_URL).hostname or ""
    named = {name.strip("[]") for name in settings.ALLOWED_HOSTS if not name.startswith((".", "*"))}
    return {site, urlsplit(f"//{host}").hostname or "", *named} - {""}
