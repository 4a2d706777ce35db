"""What people type about people, checked before an action sees it."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from django import forms
from django.contrib.auth.validators import UnicodeUsernameValidator
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from shopflow.people.models import Role, Units
from shopflow.people.seen import SeenMixin

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise


def password_field(label: StrOrPromise, *, new: bool, help_text: StrOrPromise = "") -> forms.CharField:
    autocomplete = "new-password" if new else "current-password"
    widget = forms.PasswordInput(attrs={"autocomplete": autocomplete})
    return forms.CharField(label=label, widget=widget, strip=False, help_text=help_text, max_length=200)


class LogInForm(forms.Form):
    username = forms.CharField(
        label=_("User name"),
        max_length=150,
        widget=forms.TextInput(attrs={"autocomplete": "username", "autocapitalize": "none", "autofocus": True}),
    )
    password = password_field(_("Password"), new=False)


class StationLogInForm(forms.Form):
    """The badge first, since a hand scanner sends its Enter at once; the PIN is asked for when the badge is there."""

    badge = forms.CharField(
        label=_("Badge"),
        max_length=80,
        widget=forms.PasswordInput(attrs={"autocomplete": "off", "autofocus": True}),
        help_text=_("Scan the code on your badge."),
    )
    pin = forms.CharField(
        label=_("PIN"),
        max_length=8,
        required=False,
        widget=forms.PasswordInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
    )

    @property
    def has_badge(self) -> bool:
        return bool(self.data.get("badge"))

    def ask_for_pin(self) -> None:
        """Keep the badge out of sight and wait for the PIN; for a form that was validated, before it is shown again."""
        self.fields["pin"].required = True
        self.fields["badge"].widget = forms.HiddenInput()
        self.fields["pin"].widget.attrs["autofocus"] = True


class PersonForm(forms.Form):
    username = forms.CharField(
        label=_("User name"),
        max_length=150,
        validators=[UnicodeUsernameValidator()],
        help_text=_("What they type to log in."),
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "none"}),
    )
    full_name = forms.CharField(label=_("Name"), max_length=120, help_text=_("As it stands under what they sign."))
    roles = forms.MultipleChoiceField(
        label=_("Roles"),
        choices=Role.choices,
        widget=forms.CheckboxSelectMultiple,
        required=False,
        help_text=_("A person may hold several; without one they may open nothing."),
    )


class NewPersonForm(PersonForm):
    password = password_field(
        _("First password"), new=True, help_text=_("They choose their own when they first log in.")
    )


class ChangedPersonForm(SeenMixin, PersonForm):
    is_active = forms.BooleanField(
        label=_("Works here"), required=False, help_text=_("Off: they cannot log in; what they signed stays.")
    )


class GivenPasswordForm(forms.Form):
    password = password_field(_("New password"), new=True, help_text=_("They choose their own when they next log in."))


class UnitsForm(forms.Form):
    units = forms.ChoiceField(label=_("Units shown"), choices=Units.choices, widget=forms.RadioSelect)


class OwnPasswordForm(forms.Form):
    old = password_field(_("Present password"), new=False)
    new = password_field(
        _("New password"), new=True, help_text=_("At least eight characters, and no password that many people use.")
    )


class OwnPinForm(forms.Form):
    password = password_field(_("Your password"), new=False)
    pin = forms.CharField(
        label=_("New PIN"),
        max_length=8,
        widget=forms.PasswordInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
        help_text=_("Four to eight digits, for logging in with your badge at a station."),
    )


def done(form: forms.BaseForm, act: Callable[[dict[str, Any]], object]) -> bool:
    """Run an action with what a valid form holds; a refusal goes to the field it names, else above the form."""
    if not form.is_valid():
        return False
    try:
        act(form.cleaned_data)
    except ValidationError as refusal:
        show_refusal(form, refusal)
        return False
    return True


def show_refusal(form: forms.BaseForm, refusal: ValidationError) -> None:
    if not hasattr(refusal, "error_dict"):
        form.add_error(None, refusal)
        return
    for name, errors in refusal.error_dict.items():
        form.add_error(name if name in form.fields else None, errors)
