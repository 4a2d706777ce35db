"""Saying which generator, and which settings of it, a program came from."""

from __future__ import annotations

from django.db import transaction

from shopflow.people.access import Act, require
from shopflow.people.models import User
from shopflow.programs.models import ProgramRevision
from shopflow.records import ledger


@transaction.atomic
def say_made_with(revision: ProgramRevision, *, made_with: str, settings: str, by: User) -> ProgramRevision:
    """Keep it with the revision; it changes nothing of the program, and no sign-off depends on it."""
    require(by, Act.UPLOAD_PROGRAM)
    now = ProgramRevision.objects.select_for_update().select_related("program__job").get(pk=revision.pk)
    said = tidy(made_with)[:120], tidy(settings)[:120]
    if said != (now.made_with, now.made_settings):
        now.made_with, now.made_settings = said
        now.save(update_fields=["made_with", "made_settings"])
        ledger.append(
            "program_made_with", chain=now.program.job.chain, subject=("program_revision", now.pk), by=by,
            program=now.program.name, revision=now.number,
        )  # fmt: skip
    return now


def tidy(text: str) -> str:
    """Blanks as one each, so that the same words count as the same."""
    return " ".join(text.split())
