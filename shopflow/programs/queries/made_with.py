"""What the programs of this shop were made with, to be offered again."""

from __future__ import annotations

from shopflow.programs.models import ProgramRevision

MOST_LOOKED_AT = 400
MOST = 12


def recent_makers() -> dict[str, list[str]]:
    """`makers` and `settings` as they were typed lately, newest first, each once."""
    rows = ProgramRevision.objects.exclude(made_with="", made_settings="").order_by("-pk")
    pairs = list(rows.values_list("made_with", "made_settings")[:MOST_LOOKED_AT])
    columns = zip(*pairs, strict=True) if pairs else ((), ())
    makers, settings = (list(dict.fromkeys(filter(None, column)))[:MOST] for column in columns)
    return {"makers": makers, "settings": settings}


def all_makers() -> list[str]:
    """Every generator that a program's revision names, by name."""
    named = ProgramRevision.objects.exclude(made_with="").values_list("made_with", flat=True).distinct()
    return sorted(set(named), key=str.casefold)
