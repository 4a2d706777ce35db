"""The program on the machine is compared with the floor copy before a setup runs."""

import pytest

from shopflow.floor.forms import StartForm
from shopflow.people.models import Role
from shopflow.records import files
from tests.people_fixtures import make_person
from tests.workflow.objects import at_release, with_material, with_packet

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def made_once(rows_of_the_file):
    lead = make_person("somebody_at_the_desk", Role.LEAD)
    packet = with_packet(with_material(at_release(lead), lead), lead)
    return packet.floor_copies.get()


@pytest.fixture
def copy(made_once, db):
    return made_once


def typed(copy, text, **more):
    form = StartForm({"hash_typed": text, "checks": [], **more}, copy=copy, is_setup=True)
    return form, form.is_valid()


@pytest.mark.parametrize("length", [8, 32])
def test_the_hash_that_the_header_shows_is_taken(copy, length):
    form, is_valid = typed(copy, copy.sign_off.content_sha256[:length].upper())
    assert is_valid
    assert form.compared.startswith("hash ")


def test_the_hash_of_the_floor_copy_as_a_file_is_taken(copy):
    assert typed(copy, copy.stored.sha256[:8])[1]


@pytest.mark.parametrize("text", ["deadbeef", "12"])
def test_another_hash_or_too_little_of_one_is_refused(copy, text):
    form, is_valid = typed(copy, text)
    assert not is_valid
    assert "not the hash of the floor copy" in str(form.errors["hash_typed"])


def test_the_header_shows_the_hash_that_is_asked_for(copy):
    with files.open_file(copy.stored) as stream:
        assert copy.sign_off.content_sha256[:32].upper() in stream.read().decode().upper()


def test_without_any_comparison_nothing_counts_as_compared(copy):
    form, _ = typed(copy, "")
    assert form.compared == ""
