"""What a scanned code opens: the pages that our own papers name, and nothing that anybody else printed.

Only the path of a code is ever taken, never its host: a paper printed before the shop's address changed is still read,
and no code leads anybody away from this site.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from urllib.parse import SplitResult, urlsplit

from django.conf import settings
from django.urls import Resolver404, resolve
from django.utils.translation import gettext as _

from shopflow.core.errors import CoreError
from shopflow.floor.models import Packet, Paper
from shopflow.jobs.models import Step

LONGEST = 300
OPENED_UNDER_OUR_NAME = {"floor:op", "workflow:job"}
"""Pages that no paper names, and whose address a person may type or paste."""


class NotOurs(CoreError):
    """A code that leads to no page of this shop; the text says what was read and what to do."""


@dataclass(frozen=True)
class Scanned:
    """path: on this site. elsewhere: the host that the code names, where this shop is not known by it now; else ""."""

    path: str
    elsewhere: str = ""


def _has_op(packet_id: int, step_id: int) -> bool:
    return Step.objects.filter(pk=step_id, job__packets=packet_id).exists()


def _has_packet(packet_id: int) -> bool:
    return Packet.objects.filter(pk=packet_id).exists()


def _has_paper(paper_id: int) -> bool:
    return Paper.objects.filter(pk=paper_id).exists()


PRINTED: dict[str, Callable[..., bool]] = {
    "floor:scan": _has_op,
    "papers:scan_traveler": _has_packet,
    "papers:scan": _has_paper,
}
"""The forms that our papers' codes have, each with whether this shop has what one names."""


def read(code: str, *, host: str) -> Scanned:
    """What a code names. host: the name under which this page was asked for."""
    code = code.strip()
    parts = _split(code)
    is_ours = (parts.hostname or "") in our_hosts(host)
    try:
        found = resolve(parts.path)
    except Resolver404:
        raise _no_paper_of_ours(code) from None
    if is_ours and found.view_name in OPENED_UNDER_OUR_NAME:
        return Scanned(parts.path)
    if found.view_name not in PRINTED:
        raise _no_paper_of_ours(code)
    if not PRINTED[found.view_name](**found.kwargs):
        raise NotOurs(
            _(
                "“%(code)s” names an op or a paper that this shop does not have; another shop may have printed it. "
                "Look for the job by the number on the paper, and have its traveler printed again."
            )
            % {"code": code[:80]}
        )
    return Scanned(parts.path, "" if is_ours else parts.hostname or "")


def _split(code: str) -> SplitResult:
    """The parts of a web address as our papers print it: with a host, and nobody's name before it."""
    try:
        parts = urlsplit(code[:LONGEST])
        is_web = parts.scheme in ("http", "https") and bool(parts.hostname) and "@" not in parts.netloc
    except ValueError:
        is_web = False
    if not is_web:
        raise _no_paper_of_ours(code)
    return parts


def _no_paper_of_ours(code: str) -> NotOurs:
    return NotOurs(
        _("“%(code)s” is no code of this shop's papers. Scan the one beside the op on the traveler.")
        % {"code": code[:80]}
    )


def our_hosts(host: str) -> set[str]:
    """Names under which this shop is or may be known: codes carry SITE_URL's, people may have typed another."""
    site = urlsplit(settings.SITE_URL).hostname or ""
    named = {name.strip("[]") for name in settings.ALLOWED_HOSTS if not name.startswith((".", "*"))}
    return {site, urlsplit(f"//{host}").hostname or "", *named} - {""}
