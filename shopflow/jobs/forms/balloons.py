"""Where a balloon points."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from shopflow.jobs import queries
from shopflow.jobs.models import Characteristic
from shopflow.people.choosing import offer, offer_rows

WIDTH = 1120
"""Of the picture that is clicked on, in CSS pixels: it keeps this width, so that a click says where."""


class BalloonForm(forms.Form):
    """balloon, and either a click (at.x, at.y of the picture) or a view with shares typed in percent."""

    balloon = forms.ModelChoiceField(Characteristic.objects.none(), label=_("Balloon"), empty_label=None)
    view = forms.ChoiceField(label=_("View"), required=False)
    across = forms.FloatField(label=_("Across, %"), min_value=0, max_value=100, required=False)
    down = forms.FloatField(label=_("Down, %"), min_value=0, max_value=100, required=False)

    def __init__(self, *args: Any, rows: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offer_rows(self, "balloon", rows)
        views = [("", _("on no view")), *queries.view_names().items()]
        offer(self, "view", views)

    def clean(self) -> dict[str, Any]:
        given: dict[str, Any] = super().clean() or self.cleaned_data
        if given.get("view") and (given.get("across") is None or given.get("down") is None) and not self.errors:
            raise forms.ValidationError(_("Type how far across and down the view it points, in percent."))
        if "at.x" in self.data and not self.clicked and not given.get("view") and not self.errors:
            raise forms.ValidationError(_("A key press says no place: choose a view and type how far across and down."))
        return given

    @property
    def clicked(self) -> tuple[float, float] | None:
        """Pixels from the picture's upper left; None where nothing was clicked. A key press sends 0, 0."""
        x, y = self.data.get("at.x", ""), self.data.get("at.y", "")
        if not (x.isdecimal() and y.isdecimal()) or (x, y) == ("0", "0"):
            return None
        return float(x), float(y)
