"""The revisions that order, print and model name, checked against one another."""

from __future__ import annotations

import re
from dataclasses import dataclass

from django.utils.translation import gettext as _

from shopflow.jobs.models import Job, JobFile
from shopflow.jobs.queries.intake import current_file

_LEAD = re.compile(r"^(revision|rev|issue|version)[\s.:]*")


@dataclass(frozen=True)
class Revisions:
    """What each names; "" where nobody said, None where there is no such file."""

    order: str
    print_: str | None
    model: str | None

    @property
    def named(self) -> dict[str, str]:
        """Those that are named, by what names them."""
        rows = ((_("order"), self.order), (_("print"), self.print_), (_("model"), self.model))
        return {name: said for name, said in rows if said}

    @property
    def differ(self) -> bool:
        return len({_plain(said) for said in self.named.values()}) > 1

    @property
    def unsaid(self) -> bool:
        """Whether a file is there and nobody said which revision it is."""
        return self.print_ == "" or self.model == ""

    @property
    def in_words(self) -> str:
        return ", ".join(f"{name} {said}" for name, said in self.named.items())


def revisions_of(job: Job) -> Revisions:
    """The revisions of the job's order, its newest print and its newest model."""
    files = [current_file(job, kind) for kind in (JobFile.Kind.DRAWING, JobFile.Kind.MODEL)]
    return Revisions(job.revision.revision, *(file.revision if file else None for file in files))


def _plain(revision: str) -> str:
    """ "Rev. c" and "C" are one; a dash says that there is none."""
    said = _LEAD.sub("", revision.strip().casefold())
    return "-" if said in ("-", "\u2013", "\u2014") else said
