"""Two people at one form: what the other one saved meanwhile is shown beside what was typed, and nothing is lost.

A form carries a short digest of each value that it was shown with. When it comes back and the row says something else
by then, it is not saved but shown again: what the person typed stays, what they had not touched takes the other's
value, and beside each field that differs stands what the other saved, with a box that takes it. Sent again, it is
saved.

The view locks the row, makes the form over the row as it is now, and asks `settled`; the lock lasts until the
transaction that the view opened around it ends.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from functools import cached_property
from hashlib import sha256
from typing import TYPE_CHECKING, Any, cast

from django import forms
from django.utils.datastructures import MultiValueDict
from django.utils.translation import gettext as _

from shopflow.records.canonical import canonical

if TYPE_CHECKING:
    _Base = forms.Form
else:
    _Base = object

LONGEST = 64 * 1024
"""Bytes of what a form says it was shown with; more than any form of ours holds."""


class SeenMixin(_Base):
    """For a form over one row, before forms.Form or forms.ModelForm; its initial values are what the row says now.

    unseen: fields that say nothing of the row, such as a reason. meanwhile: what the other saved, by field; of those,
    untouched: fields that this person had left alone, which show the other's value.
    """

    unseen: tuple[str, ...] = ()
    is_overtaken = False
    saved_by = ""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.meanwhile: dict[str, str] = {}
        self.untouched: set[str] = set()
        if self.is_bound:
            self._take_what_is_ticked()

    @cached_property
    def _now(self) -> dict[str, list[str]]:
        """What the row says. A file of a thousand lines never asks; a view asks before anything is validated."""
        return {name: self._shown(name) for name in self.fields if name not in self.unseen}

    @property
    def seen_name(self) -> str:
        return self.add_prefix("seen")

    @property
    def take_name(self) -> str:
        return self.add_prefix("take")

    @property
    def seen_state(self) -> str:
        """What the form carries: a digest of each value, of the row as it is now."""
        return json.dumps({name: _digest(texts) for name, texts in self._now.items()}, separators=(",", ":"))

    def settled(self, saved_by: object = "") -> bool:
        """Whether nothing was saved since the form was shown; otherwise the form is made ready to be shown again.

        saved_by: who saved last, as the page says it. A form that does not say what it was shown with is settled.
        """
        seen = self._seen()
        changed = {name for name, texts in self._now.items() if name in seen and seen[name] != _digest(texts)}
        if not changed:
            return True
        self.is_overtaken, self.saved_by = True, str(saved_by or _("Somebody else"))
        for name in changed:
            if _digest(self._typed(name)) == seen[name]:
                self.untouched.add(name)
                self._put(name)
            elif sorted(self._typed(name)) == sorted(self._now[name]):
                continue  # both typed the same
            self.meanwhile[name] = self.said(name)
        return False

    def said(self, name: str) -> str:
        """What the row says now of one field, in the words of its choices."""
        words = dict(_flat(getattr(self.fields[name], "choices", ())))
        texts = [words.get(text, text) for text in self._now[name]]
        if isinstance(self.fields[name].widget, forms.CheckboxInput):
            return _("yes") if texts else _("no")
        return ", ".join(texts) or _("nothing")

    def _shown(self, name: str) -> list[str]:
        """The texts that a browser sends back of a field that nobody touches."""
        field = self.fields[name]
        value = field.prepare_value(self.get_initial_for_field(field, name))
        if isinstance(field.widget, forms.CheckboxInput):
            return _texts(bool(value))
        return _texts(field.widget.format_value(value))

    def _typed(self, name: str) -> list[str]:
        return _texts(self.fields[name].widget.value_from_datadict(self.data, self.files, self.add_prefix(name)))

    def _seen(self) -> dict[str, str]:
        sent = str(self.data.get(self.seen_name, ""))[:LONGEST]
        try:
            seen = json.loads(sent) if sent else {}
        except ValueError:
            seen = {}
        return {str(name): str(digest) for name, digest in seen.items()} if isinstance(seen, dict) else {}

    def _take_what_is_ticked(self) -> None:
        """Where the person ticked what the other saved, it stands in place of what was typed."""
        getlist = getattr(self.data, "getlist", None)
        for name in getlist(self.take_name) if getlist else ():
            if name in self._now:
                self._put(name)

    def _put(self, name: str) -> None:
        data = MultiValueDict[str, Any](cast(MultiValueDict[str, Any], self.data))
        data.setlist(self.add_prefix(name), list(self._now[name]))
        self.data = data


def _texts(value: Any) -> list[str]:
    """One form of what a widget shows and what comes back from it."""
    match value:
        case None | False | "":
            return []
        case True:
            return ["on"]
        case list() | tuple() | set() | frozenset():
            return [text for item in value for text in _texts(item)]
    text = "\n".join(str(value).splitlines()).strip()
    return [text] if text else []


def _digest(texts: list[str]) -> str:
    return sha256(canonical(sorted(texts)).encode()).hexdigest()[:12]


def _flat(choices: Iterable[Any]) -> Iterable[tuple[str, str]]:
    """The choices of a field without their groups, as texts."""
    for value, words in choices:
        if isinstance(words, list | tuple):
            yield from _flat(words)
        else:
            yield str(value), str(words)
