"""What is said about a setup, for those who read it: in the groups of its form, without what nobody said."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from shopflow.jobs.forms.plan import SetupForm
from shopflow.jobs.models import Setup

GROUPS: tuple[tuple[str | Promise, str], ...] = (
    (_("Where"), "title machine up along_x manual_reason"),
    (_("How it is held"), "workholding grip stock_in fixture fixed_jaw stop_side datums located_on"),
    (
        _("What tools must not touch"),
        "held_by jaws_along jaw_length jaw_thick parallel_height parallel_thick bed_height solids",
    ),
    (
        _("Blank, along the model's axes"),
        "blank_round blank_x blank_y blank_z blank_over vary_x vary_y vary_z blank_holes blank_file",
    ),
    (_("Part zero"), "work_offset zero_x zero_y zero_z zero_point pick_up_by pick_up"),
)
"""Heading, and the fields under it in their order."""


def setup_facts(form: SetupForm, setup: Setup) -> list[tuple[str, list[tuple[str, str]]]]:
    """Each heading with (what it is called, what is said), as the form has them; headings without any are left out."""
    groups = [(str(heading), _said(form, setup, names.split())) for heading, names in GROUPS]
    return [(heading, said) for heading, said in groups if said]


def _said(form: SetupForm, setup: Setup, names: list[str]) -> list[tuple[str, str]]:
    said = ((str(form.fields[name].label), _value(form, setup, name)) for name in names if name in form.fields)
    return [(label, value) for label, value in said if value]


def _value(form: SetupForm, setup: Setup, name: str) -> str:
    """As people read it: by its name where the form holds a key."""
    if name == "up":
        return str(setup.orientation)
    if name == "work_offset":
        return setup.work_offset_code
    field, value = form.fields[name], form[name].value()
    if isinstance(field, forms.ModelChoiceField):
        return str(getattr(setup, name) or "")
    if isinstance(field, forms.ChoiceField) and value not in (None, ""):
        choices: Any = field.choices
        return str(dict(choices).get(value, value))
    return "" if value is None else str(value)
