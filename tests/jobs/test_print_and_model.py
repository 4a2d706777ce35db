"""Order, print and model side by side: their revisions, how threads are shown, where limits lie to one side."""

from dataclasses import replace

import pytest
from django.core.exceptions import PermissionDenied
from django.urls import reverse

from shopflow.core.measure import parse
from shopflow.jobs import actions, queries
from shopflow.jobs.models import Characteristic, Job, JobFile, Threads
from shopflow.jobs.queries.revisions import Revisions
from shopflow.jobs.templatetags.part import thread_question
from shopflow.records import ledger
from shopflow.workflow.gates import intake_gate
from tests.core.planning.parts import a_hole, a_reading
from tests.jobs.objects import STEP_HEAD, a_drawing, a_job, a_read_job, an_upload


def differ(order, print_, model):
    return Revisions(order, print_, model).differ


@pytest.mark.parametrize(
    ("order", "print_", "model", "answer"),
    [
        ("C", "C", "C", False),
        ("C", "Rev. c", " C ", False),
        ("C", "", "", False),
        ("C", None, None, False),
        ("-", "\u2013", "\u2014", False),
        ("C", "B", "C", True),
        ("C", "C", "B", True),
        ("C", None, "B", True),
        ("1", "01", None, True),
    ],
)
def test_revisions_differ_when_two_that_are_named_are_not_one(order, print_, model, answer):
    assert differ(order, print_, model) is answer


@pytest.fixture
def both(db, programmer):
    """A job of revision C with a print and a model."""
    job = a_read_job(programmer, a_reading(holes=[a_hole(thread_guess="M6 (tap drill)", diameter_mm=5.0)]))
    a_drawing(job, programmer)
    return job


def compare(job, by, **said):
    return actions.compare_print_and_model(job, by=by, **said)


def unmet(job):
    return [condition.text for condition in intake_gate(Job.objects.get(pk=job.pk)) if not condition.met]


REVISIONS = "order, print and model are of one revision, or a person said why not"


def test_an_older_print_holds_the_job_in_intake(both, programmer):
    assert REVISIONS not in unmet(both)
    compare(both, programmer, print_revision="B", model_revision="C")
    assert REVISIONS in unmet(both)


def test_a_reason_lets_the_job_go_on(both, programmer):
    compare(both, programmer, print_revision="B", settled="Mail of 3 May: print B still holds for C.")
    assert REVISIONS not in unmet(both)


def test_a_reason_does_not_cover_a_later_file(both, programmer):
    compare(both, programmer, print_revision="B", settled="Mail of 3 May.")
    a_drawing(both, programmer, "newer.pdf")
    assert Job.objects.get(pk=both.pk).revisions_settled == ""


def test_a_reason_for_nothing_is_not_kept(both, programmer):
    assert compare(both, programmer, print_revision="C", settled="whatever").revisions_settled == ""


def test_a_newer_file_is_of_no_known_revision(both, programmer):
    compare(both, programmer, print_revision="C", model_revision="C")
    actions.add_file(both, an_upload(STEP_HEAD + b"2"), by=programmer, kind=JobFile.Kind.MODEL)
    assert queries.revisions_of(both) == Revisions("C", "C", "")


def test_comparing_is_in_the_history(both, programmer):
    compare(both, programmer, print_revision="B")
    (row,) = [row for row in ledger.rows_for(both.chain) if row.kind == "print_and_model_compared"]
    assert row.data["differ"] is True


def test_a_viewer_does_not_compare(both, viewer):
    with pytest.raises(PermissionDenied):
        compare(both, viewer, print_revision="B")


def test_the_page_takes_what_is_found_and_shows_the_difference(client, both, programmer):
    client.force_login(programmer)
    typed = {"print_revision": "B", "model_revision": "C", "threads": "minor", "settled": ""}
    client.post(reverse("jobs:print_and_model", args=[both.pk]), typed)
    shown = client.get(reverse("jobs:intake", args=[both.pk])).content.decode()
    assert "they differ" in shown and "order C, print B, model C" in shown and "at the minor diameter" in shown


def test_what_is_too_long_is_answered_and_still_there(client, both, programmer):
    client.force_login(programmer)
    answer = client.post(reverse("jobs:print_and_model", args=[both.pk]), {"print_revision": "B" * 21})
    assert answer.status_code == 422 and "B" * 21 in answer.content.decode()


def test_holes_of_tap_drill_size_ask_how_threads_are_shown(client, both, viewer):
    client.force_login(viewer)
    assert "how does the model show threads" in client.get(reverse("jobs:intake", args=[both.pk])).content.decode()


@pytest.mark.parametrize(
    ("diameter", "shown", "question"),
    [
        (5.0, "", "size of M6 (tap drill): a thread?"),
        (5.0, Threads.MINOR, "size of M6 (tap drill): a thread?"),
        (6.0, Threads.MAJOR, "major diameter of M6: a thread?"),
        (6.35, Threads.MAJOR, "major diameter of 1/4-20 or 1/4-28: a thread?"),
        (5.0, Threads.PLAIN, ""),
        (5.0, Threads.NONE, ""),
    ],
)
def test_the_question_about_a_hole_follows_how_the_model_shows_threads(diameter, shown, question):
    """Major diameters: M6 is 6 mm (ISO 261), 1/4 in is 6.35 mm."""
    hole = replace(a_hole(), diameter_mm=diameter, thread_guess="M6 (tap drill)" if diameter == 5.0 else "")
    assert thread_question(hole, shown) == question


def a_characteristic(nominal, lower, upper):
    typed = {"nominal": nominal, "lower": lower, "upper": upper}
    sizes = {name: parse(text, default_unit="mm") for name, text in typed.items()}
    return Characteristic(number=1, name="bore", **sizes)


@pytest.mark.parametrize(
    ("nominal", "lower", "upper", "middle"),
    [
        ("10", "9.95", "10.05", None),
        ("10", "10", "10.022", "10.011 mm"),  # ISO 286-2: H8 of 10 mm is 0 to +0.022
        ("10", "9.972", "9.987", "9.9795 mm"),  # ISO 286-2: f7 of 10 mm is -0.013 to -0.028
        ("0.5 in", "0.5 in", "0.502 in", "0.501 in"),
        ("10", "9.98", "10.06", None),
    ],
)
def test_limits_to_one_side_of_the_nominal_are_aimed_at_in_their_middle(nominal, lower, upper, middle):
    found = queries.aims_of([a_characteristic(nominal, lower, upper)])
    assert [str(aim.middle) for aim in found] == ([middle] if middle else [])


def test_a_job_without_files_has_nothing_to_compare(client, db, programmer, viewer):
    client.force_login(viewer)
    job = a_job(programmer)
    assert "print-and-model" not in client.get(reverse("jobs:intake", args=[job.pk])).content.decode()
