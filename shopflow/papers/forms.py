"""What a person chooses when asking for a paper."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from shopflow.floor.models import Lot, Paper, Shipment
from shopflow.jobs.models import Job
from shopflow.papers.labels import MOST_LABELS, ROLL, SHEET
from shopflow.people.choosing import offer_rows


class AskForm(forms.Form):
    """Which shipment or lot of the job the paper is about."""

    shipment = forms.ModelChoiceField(Shipment.objects.none(), required=False, widget=forms.HiddenInput)
    lot = forms.ModelChoiceField(Lot.objects.none(), required=False, widget=forms.HiddenInput)

    def __init__(self, *args: object, job: Job, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]
        offer_rows(self, "shipment", job.shipments.all())
        offer_rows(self, "lot", job.lots.all())

    @property
    def chosen(self) -> dict[str, Any]:
        """What was chosen beside the subject, as the paper's row keeps it."""
        about = {"shipment", "lot"}
        return {name: value for name, value in self.cleaned_data.items() if name not in about and value is not None}


class LabelsForm(AskForm):
    on = forms.ChoiceField(label=_("Print on"), choices=[(SHEET, _("sheets, ten each")), (ROLL, _("label printer"))])
    labels = forms.IntegerField(label=_("How many labels"), min_value=1, max_value=MOST_LABELS, initial=1)
    pieces = forms.IntegerField(label=_("Pieces in each"), min_value=1, max_value=1_000_000, required=False)


class FirstArticleForm(AskForm):
    piece = forms.IntegerField(label=_("Piece"), min_value=1, max_value=1_000_000, initial=1)


FORMS: dict[str, type[AskForm]] = {Paper.Kind.LABELS: LabelsForm, Paper.Kind.FIRST_ARTICLE: FirstArticleForm}


def form_for(kind: str, job: Job, *args: object, **kwargs: object) -> AskForm:
    return FORMS.get(kind, AskForm)(*args, job=job, **kwargs)
