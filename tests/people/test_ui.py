"""Tags and filters of all pages."""

import re
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path
from types import SimpleNamespace

import pytest
from django import forms
from django.template import Context, Template, TemplateSyntaxError

from shopflow.core.measure import parse
from shopflow.people.templatetags import ui

ICONS = Path(ui.__file__).parents[2] / "templates" / "icons"


def said(text, **context):
    """What a reader sees: the tags taken away."""
    html = Template("{% load ui %}" + text).render(Context(context))
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", "", html)).strip()


class OrderForm(forms.Form):
    quantity = forms.IntegerField(help_text="Pieces ordered.")
    notes = forms.CharField(required=False, widget=forms.Textarea)
    governs = forms.ChoiceField(choices=[("m", "the model")], widget=forms.RadioSelect)
    urgent = forms.BooleanField(required=False)
    model = forms.FileField(required=False)


def test_a_typed_length_is_shown_exactly_as_it_was_typed():
    assert said("{% measure m %}", m=parse("1 1/2 in", default_unit="mm")) == "1 1/2 in"


def test_a_typed_length_without_a_unit_is_shown_with_it():
    assert said("{% measure m %}", m=parse("12,50", default_unit="mm")) == "12,50mm"


@pytest.mark.parametrize(("units", "shown"), [("mm", "25.40mm"), ("in", "1.000in")])
def test_a_computed_length_follows_the_readers_units(units, shown):
    assert said("{% length 25.4 %}", user=SimpleNamespace(units=units)) == shown


def test_inches_are_computed_from_the_exact_inch():
    # 25.4 mm to the inch is exact: international yard and pound agreement, 1959.
    assert ui.in_units(Decimal("0.127"), "in", 3) == "0.0050"


def test_a_box_reads_as_three_lengths():
    assert said("{% box b 1 %}", b=(101.6, 50.8, 25.4)) == "101.6 × 50.8 × 25.4mm"


def test_an_unknown_number_is_a_dash():
    assert said("{% length x %}{% quantity x 'rpm' %}{% measure x %}", x=None) == "–––"


def test_what_a_template_could_not_find_is_a_dash():
    text = "{{ row.seconds|duration }}{% length row.depth 2 %}{% when row.at %}{{ row.sha|short_hash }}"
    assert said(text, row=None) == "––––"


def test_nought_is_not_an_unknown_number():
    assert said("{% quantity 0 'rpm' %}") == "0rpm"


@pytest.mark.parametrize(
    ("seconds", "shown"),
    [(0, "0 s"), (59.4, "59 s"), (59.6, "1 min"), (425, "7 min 5 s"), (3600, "1 h"), (7830, "2 h 10 min"), (None, "–")],
)
def test_durations_are_read_at_a_glance(seconds, shown):
    assert ui.duration(seconds) == shown


def test_a_stamp_of_an_unknown_kind_is_refused():
    with pytest.raises(TemplateSyntaxError, match="no stamp of kind"):
        said("{% stamp 'late' 'red' %}")


def test_a_stamp_escapes_its_word():
    assert "<b>" not in ui.stamp("<b>late</b>")


@pytest.mark.parametrize("weight", ["must-fix", "decide", "note"])
def test_the_weight_of_a_finding_is_a_word(weight):
    assert said("{% weight w %}", w=weight) == weight


def test_the_three_weights_are_told_apart_without_colour():
    drawn = {re.sub(r">[^<]*</span>$", "", ui.weight(weight)) for weight in ("must-fix", "decide", "note")}
    assert len(drawn) == 3


@pytest.mark.parametrize("name", sorted(path.stem for path in ICONS.glob("*.svg")))
def test_an_icon_with_a_label_is_said_aloud(name):
    assert f'role="img" aria-label="{name}"' in ui.icon(name, name)


@pytest.mark.parametrize("name", sorted(path.stem for path in ICONS.glob("*.svg")))
def test_an_icon_without_a_label_is_decoration(name):
    assert 'aria-hidden="true"' in ui.icon(name)


def test_a_moment_is_shown_in_the_shops_zone(settings):
    settings.TIME_ZONE = "America/Chicago"  # UTC-6 in November
    assert said("{% when t %}", t=datetime(2026, 11, 24, 9, 30, tzinfo=UTC)) == "24 Nov 2026 03:30"


def test_a_date_has_no_time_of_day():
    assert said("{% when t %}", t=date(2026, 11, 24)) == "24 Nov 2026"


def test_a_field_keeps_what_was_typed_and_says_what_is_wrong():
    form = OrderForm({"quantity": "twelve", "governs": "m"})
    html = ui.field(form["quantity"])
    assert 'value="twelve"' in html and "Enter a whole number." in html


def test_a_wrong_field_names_its_error_to_screen_readers():
    html = ui.field(OrderForm({"quantity": "twelve"})["quantity"])
    described = re.search(r'aria-describedby="([^"]+)"', html).group(1).split()
    assert all(f'id="{name}"' in html for name in described) and len(described) == 2


@pytest.mark.parametrize("name", ["quantity", "notes", "urgent", "model"])
def test_every_field_has_a_label_that_points_at_it(name):
    html = ui.field(OrderForm()[name])
    assert re.search(r'<label for="([^"]+)"', html).group(1) in re.findall(r' id="([^"]+)"', html)


def test_a_group_of_choices_is_named_by_its_label():
    html = ui.field(OrderForm()["governs"])
    named_by = re.search(r'aria-labelledby="([^"]+)"', html).group(1)
    assert f'id="{named_by}"' in html


def test_fields_come_in_the_order_asked_for():
    html = Template('{% load ui %}{% fields form "notes quantity" %}').render(Context({"form": OrderForm()}))
    assert html.index('name="notes"') < html.index('name="quantity"')
