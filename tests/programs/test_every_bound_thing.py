"""Whatever a sign-off binds has a test that changes it; a new bound thing, or a new field, without a decision fails.

Generated from what programs.assumptions binds today, not from a list kept beside it.
"""

from dataclasses import replace
from decimal import Decimal
from enum import Enum

import pytest
from django.db import models, transaction

from shopflow.core.nc import control_values
from shopflow.core.review import HouseRules
from shopflow.core.review.house_rules import DEFAULTS, UNBOUND_KEYS
from shopflow.core.types import ControlMacro
from shopflow.jobs.models import Job, JobFile, Setup
from shopflow.people.models import User
from shopflow.programs.assumptions import JUDGED as JUDGED_PARTS
from shopflow.programs.assumptions import bound, differences, rows_of
from shopflow.programs.models import ProgramRevision
from shopflow.records import files
from shopflow.shop.fields import MeasureField
from shopflow.shop.models import Fixture, Holder, Machine, Material, Tool
from tests.people_fixtures import make_person
from tests.programs.objects import a_machine, a_planned_job, a_program, everyone_at_once, upload
from tests.programs.test_lapses import JUDGED, UNJUDGED

UNBOUND_FIELDS = {
    Tool: {
        "name", "note", "on_hand", "material", "coating", "flutes", "pitch", "centre_cutting", "through_coolant",
        "max_rpm", "uses", "life", "life_unit", "life_used", "edge", "set_from", "set_to",
    },
    Holder: {"name"},
    Machine: {
        "note", "name_by_number", "name_length", "name_ending", "first_number", "last_number", "line_ends",
        "percent_signs", "comment_length", "own_comments_plain", "memory_bytes",
    },
    Material: {"needs_heat_number", "caution", "source"},
    Setup: {
        "job", "title", "pick_up", "pick_up_by", "stock_in", "manual_reason", "fixed", "fixed_jaw", "stop_side",
        "located_on", "datums", "slant",
    },
}  # fmt: skip
"""What a tool has left is of the day: it changes with every piece that is cut, and the start asks for it again.

Fields that mean nothing to the cut, or that rules read without binding them (test_lapses.READ_NOT_BOUND)."""


@pytest.fixture(scope="module")
def made_once(django_db_setup, django_db_blocker):
    with django_db_blocker.unblock(), transaction.atomic():
        owner = everyone_at_once(make_person("the_owner"))
        job = a_planned_job(owner)
        Setup.objects.update(zero_x="0 mm", zero_y="0 mm", zero_z="0 mm", along_x="+X", held_by="vise")
        yield upload(job, a_program(depth=15), by=owner, reviewed=False).pk
        transaction.set_rollback(True)


@pytest.fixture
def revision(made_once, db):
    return ProgramRevision.objects.get(pk=made_once)


@pytest.fixture
def job(revision):
    return revision.program.job


@pytest.fixture
def owner(revision):
    return revision.uploaded_by


def now(revision):
    return bound(rows_of(ProgramRevision.objects.get(pk=revision.pk)))


def changed_by(revision, act):
    """The paths of the bound values that an act changes; the act itself is taken back."""
    before = now(revision)
    with transaction.atomic():
        act()
        after = now(revision)
        transaction.set_rollback(True)
    return {change.path for change in differences(before, after)}, before, after


def in_general(path):
    """A path with any setup and any tool for the one it names."""
    return (path[0], "*", *path[2:]) if path[0] in ("setups", "tools") and len(path) > 1 else path


def paths(value, path=()):
    if isinstance(value, dict) and value:
        for key, item in value.items():
            yield from paths(item, (*path, str(key)))
    else:
        yield in_general(path)


def test_every_bound_thing_is_changed_by_a_test_of_its_lapse(revision, job, owner):
    tested, there = set(), set()
    for act in {**UNJUDGED, **JUDGED}.values():
        changed, before, after = changed_by(revision, lambda act=act: act(job, owner))
        tested |= {in_general(path) for path in changed}
        there |= set(paths(before)) | set(paths(after))
    one_at_a_time = {path for path in there if path[0] in ("control", "house_rules")}
    assert there - tested - one_at_a_time == {("format",), ("model",)}  # "model" alone: where there is none


@pytest.mark.parametrize("name", [*UNJUDGED, *JUDGED])
def test_a_test_of_a_lapse_changes_what_it_says_it_does(revision, job, owner, name):
    act = UNJUDGED.get(name) or JUDGED[name]
    changed, _, _ = changed_by(revision, lambda: act(job, owner))
    assert {path[0] in JUDGED_PARTS for path in changed} == {name in JUDGED}


def test_every_setting_of_the_control_profile_is_bound(revision):
    rows = rows_of(revision)
    for name in control_values.settings():
        other = replace(rows.control, **{name: another(getattr(rows.control, name))})
        changed = differences(bound(rows), bound(replace(rows, control=other)))
        assert [change.path for change in changed] == [("control", name)], name


def test_what_the_profile_and_its_macros_are_called_is_not_bound(revision):
    rows = rows_of(revision)
    first, second = (
        replace(rows.control, name=word, title=word, control_macros=(ControlMacro("9810", word, moves=word),))
        for word in ("one", "two")
    )
    assert differences(bound(replace(rows, control=first)), bound(replace(rows, control=second))) == []


def another(value):
    """Another value of the type of a setting."""
    match value:
        case bool():
            return not value
        case Enum():
            return next(item for item in type(value) if item is not value)
        case int() | float():
            return value + 1
        case str():
            return f"{value}Z"
        case frozenset():
            return value | {"M60"}
    return (*value, ControlMacro("1", "x"))


def test_every_house_rule_about_cutting_is_bound(revision):
    rows = rows_of(revision)
    for rule in DEFAULTS:
        other = replace(rows, house_rules=HouseRules({rule.key: rule.value + 1}))
        expected = [] if rule.key in UNBOUND_KEYS else [("house_rules", rule.key)]
        assert [change.path for change in differences(bound(rows), bound(other))] == expected


def fields_of(model):
    return [field for field in model._meta.concrete_fields if not field.primary_key]


@pytest.mark.parametrize("model", UNBOUND_FIELDS, ids=lambda model: model.__name__)
def test_every_field_of_a_row_is_bound_or_known_not_to_be(revision, model):
    unbound = {
        field.name for field in fields_of(model) if not changed_by(revision, lambda field=field: vary(model, field))[0]
    }
    assert unbound == UNBOUND_FIELDS[model]


def vary(model, field):
    """Give the first row of a table another value in one field."""
    row = model.objects.order_by("pk").first()
    model.objects.filter(pk=row.pk).update(**{field.name: other_value(field, getattr(row, field.name))})


def other_value(field, value):
    if isinstance(field, MeasureField):
        return "1.234 mm"
    if isinstance(field, models.BooleanField):
        return not value
    if isinstance(field, models.ForeignKey):
        return other_row(field.related_model, value)
    if field.choices:
        return next(choice for choice, _ in field.flatchoices if choice not in (value, ""))
    if isinstance(field, models.JSONField):
        return [*value, ["90", "77"]]
    if isinstance(field, models.DecimalField):
        return Decimal(value or 0) + 1
    if isinstance(field, models.IntegerField):
        return value + 40
    return "increment" if field.name == "control" else f"{value} x"


def other_row(model, value):
    made = {
        Machine: lambda: a_machine("another"),
        Fixture: lambda: Fixture.objects.create(number="J-1", name="jaws"),
        JobFile: lambda: JobFile.objects.create(
            job=Job.objects.get(),
            kind="blank",
            name="casting.step",
            uploaded_by=User.objects.first(),
            stored=files.store(b"ISO-10303-21; a casting", media_type="model/step"),
        ),
        Holder: lambda: Holder.objects.create(name="another", profile=[["0", "99"]]),
    }
    return made[model]() if model in made else value


def test_a_changed_setting_of_the_control_is_said_in_plain_words(revision):
    rows = rows_of(revision)
    other = replace(rows, control=replace(rows.control, stop_stops_spindle=True))
    (change,) = differences(bound(rows), bound(other))
    assert str(change) == (
        "the control profile's “M00 and M01” was “leave spindle and coolant on: the program must stop them” "
        "and is “stop spindle and coolant by themselves”"
    )
