"""One thing that must hold, and the refusal that names those that do not."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _

from shopflow.core.errors import CoreError


@dataclass(frozen=True)
class Condition:
    """One thing that must hold. reason: what is missing, in words. mend: the address that mends it."""

    text: str
    met: bool
    reason: str = ""
    mend: str = ""


class GateClosed(CoreError):
    """The job may not move on; `unmet` says which conditions fail."""

    def __init__(self, unmet: list[Condition]) -> None:
        self.unmet = unmet
        super().__init__(_("Still missing: %(list)s.") % {"list": "; ".join(c.text for c in unmet)})


def unmet(conditions: list[Condition]) -> list[Condition]:
    return [condition for condition in conditions if not condition.met]
