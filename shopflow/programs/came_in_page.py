"""What the page "How the programs came in" shows: the numbers, and bars as shares of the longest."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopflow.jobs.models import Customer
from shopflow.people.choosing import offer
from shopflow.people.models import User
from shopflow.programs.models import ProgramRevision
from shopflow.programs.queries import all_makers, came_in
from shopflow.shop.models import Machine

RULES_SHOWN = 40


class AskForm(forms.Form):
    """Which programs are counted."""

    months = forms.ChoiceField(
        label=gettext_lazy("months"), required=False,
        choices=[*((str(n), str(n)) for n in came_in.MONTHS), ("0", gettext_lazy("all"))],
    )  # fmt: skip
    by = forms.ChoiceField(label=gettext_lazy("sent in by"), required=False)
    customer = forms.ChoiceField(label=gettext_lazy("customer"), required=False)
    machine = forms.ChoiceField(label=gettext_lazy("machine"), required=False)
    made_with = forms.ChoiceField(label=gettext_lazy("made with"), required=False)

    def __init__(self, data: Any) -> None:
        super().__init__({"months": "12", **data.dict()} if data else {"months": "12"})
        senders = User.objects.filter(pk__in=ProgramRevision.objects.values("uploaded_by"))
        for name, rows in (("by", senders), ("customer", Customer.objects.all()), ("machine", Machine.objects.all())):
            choices = sorted(((str(row.pk), str(row)) for row in rows), key=lambda pair: pair[1].casefold())
            offer(self, name, [("", _("all")), *choices])

        offer(self, "made_with", [("", _("all")), *((one, one) for one in all_makers())])

    def asked(self) -> came_in.Asked:
        """What was asked for; what is no choice of the form asks for everything."""
        if not self.is_valid():
            return came_in.Asked()
        made_with = self.cleaned_data.pop("made_with")
        typed = {name: int(value) if value else 0 for name, value in self.cleaned_data.items()}
        return came_in.Asked(**typed | ({} if self.cleaned_data["months"] else {"months": 12}), made_with=made_with)


@dataclass(frozen=True)
class Bar:
    """One stretch of a bar. x, width: percent of the plot, as text for an SVG attribute; style: a, b or c."""

    x: str
    width: str
    style: str
    says: str


def bars(values: Sequence[tuple[float, str, str]], longest: float) -> list[Bar]:
    """values: (amount, style, what it is), one after the other; amounts of nothing draw nothing."""
    drawn, at = [], 0.0
    for amount, style, says in values:
        width = 100 * amount / longest if longest else 0.0
        if width > 0:
            drawn.append(Bar(f"{at:.2f}%", f"{width:.2f}%", style, says))
        at += width
    return drawn


def context(data: Any) -> dict[str, Any]:
    """For programs/came_in.html."""
    form = AskForm(data)
    found = came_in.came_in(form.asked())
    most = max((share.programs for share in found.months), default=0)
    most_air = max((share.air_s for share in found.months), default=0.0)
    most_rule = max((rule.programs for rule in found.rules), default=0)
    return {
        "form": form,
        "found": found,
        "total": found.all,
        "percent_as_they_came": _percent(found.all.as_they_came, found.all.programs),
        "percent_air": _percent(found.all.air_s, found.all.cycle_s),
        "months": [(share, _share_bars(share, most)) for share in found.months],
        "people": [(share, _share_bars(share, share.programs)) for share in found.people],
        "makers": [(share, _share_bars(share, share.programs)) for share in found.makers],
        "air": [(share, _air_bars(share, most_air)) for share in found.months if share.cut],
        "rules": [(rule, bars([(rule.programs, "a", "")], most_rule)) for rule in found.rules[:RULES_SHOWN]],
        "rules_more": max(0, len(found.rules) - RULES_SHOWN),
    }


def _share_bars(share: came_in.Share, most: int) -> list[Bar]:
    return bars(
        [
            (share.as_they_came, "a", _("as they came")),
            (share.edited, "b", _("edits taken")),
            (share.by_other_means, "c", _("changed otherwise")),
        ],
        most,
    )


def _air_bars(share: came_in.Share, most: float) -> list[Bar]:
    return bars([(share.taken_out_s, "a", _("taken out")), (share.air_left_s, "c", _("still there"))], most)


def _percent(part: float, whole: float) -> str:
    return f"{100 * part / whole:.0f} %" if whole else "–"
