"""The part zero of a setup, found from what its program drills."""

import pytest
from django.core.exceptions import PermissionDenied
from django.urls import reverse

from shopflow.core.errors import NotPossible
from shopflow.jobs.models import Setup
from shopflow.programs import zeros
from tests.core.planning.parts import a_hole, a_reading
from tests.jobs.objects import read_now
from tests.people_fixtures import make_person
from tests.programs.objects import END, HEAD, a_planned_job, upload

PATTERN = ((10.0, 10.0), (50.0, 10.0), (50.0, 32.0))
"""Three holes of a plate 60 × 40 × 12, of no symmetry."""
SQUARE = ((10.0, 10.0), (50.0, 10.0), (50.0, 30.0), (10.0, 30.0))


def a_drilling(places, *, depth=-16.0):
    """A program with its zero in the middle of the plate's top."""
    holes = "".join(f"G0 X{x - 30.0} Y{y - 20.0}\nG0 Z3.\nG1 Z{depth} F100.\nG0 Z3.\n" for x, y in places)
    return (HEAD + "T2 M6\nG54 G0 X0. Y0. S1200 M3\nG43 H2 Z50.\n" + holes + "G0 Z50.\nM5\n" + END).encode()


def holes(places):
    return [a_hole(x, y, diameter_mm=6.0) for x, y in places]


def a_revision(owner, places, *, drilled=None, **drilling):
    job = read_now(a_planned_job(owner), owner, a_reading(holes=holes(places)))
    Setup.objects.filter(job=job).update(zero_x="", zero_y="", zero_z="")
    return upload(job, a_drilling(drilled or places, **drilling), by=owner)


def found_for(revision):
    return zeros.offers_for(revision, revision.program.setups.get(), units="mm")


def test_the_zero_that_the_program_was_written_for_is_offered(owner, db):
    (offer,) = found_for(a_revision(owner, PATTERN)).offers
    assert (offer.up, offer.along_x, offer.zero_mm) == ("+Z", "+X", (30.0, 20.0, 12.0))


def test_an_offer_says_how_many_places_fall_on_holes_and_how_far_off_they_are(owner, db):
    (offer,) = found_for(a_revision(owner, PATTERN)).offers
    assert (offer.matched, offer.drilled) == (3, 3) and offer.residual_mm < 1e-6


def test_a_pattern_that_looks_the_same_turned_by_half_is_offered_both_ways(owner, db):
    found = found_for(a_revision(owner, SQUARE))
    assert {offer.along_x for offer in found.offers} == {"+X", "-X"}


def test_a_program_of_another_part_says_that_nothing_fits(owner, db):
    found = found_for(a_revision(owner, PATTERN, drilled=((11.0, 13.0), (40.0, 9.0), (22.0, 35.0))))
    assert not found.offers and "no pattern" in found.why_none


def test_a_program_that_drills_nothing_says_so(owner, db):
    found = found_for(a_revision(owner, PATTERN, drilled=((0.0, 0.0),), depth=4.0))
    assert not found.offers and "drills nothing" in found.why_none


def test_the_chosen_zero_is_written_into_the_plan(owner, db):
    revision = a_revision(owner, PATTERN)
    (offer,) = found_for(revision).offers
    setup = zeros.take_offer(revision, revision.program.setups.get(), offer.key, by=owner)
    assert [length.mm for length in setup.zero] == [30.0, 20.0, 12.0]


def test_a_zero_that_was_not_offered_is_refused(owner, db):
    revision = a_revision(owner, PATTERN)
    with pytest.raises(NotPossible, match="fits no longer"):
        zeros.take_offer(revision, revision.program.setups.get(), "+Z +X 1.000 2.000 3.000", by=owner)


def test_who_may_not_plan_sets_no_zero(owner, db):
    revision = a_revision(owner, PATTERN)
    (offer,) = found_for(revision).offers
    with pytest.raises(PermissionDenied):
        zeros.take_offer(revision, revision.program.setups.get(), offer.key, by=make_person("viewer", "viewer"))


def test_the_program_page_leads_to_the_zero_and_setting_it_leads_back(owner, client, db):
    revision = a_revision(owner, PATTERN)
    client.force_login(owner)
    page = reverse("programs:zero", args=[revision.pk, revision.program.setups.get().pk])
    assert page in client.get(revision.get_absolute_url()).content.decode()
    key = found_for(revision).offers[0].key
    assert key in client.get(page).content.decode()
    assert client.post(page, {"key": key}).headers["location"] == revision.get_absolute_url()
    assert revision.program.setups.get().zero is not None
