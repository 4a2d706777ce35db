import pytest

from tests.people_fixtures import PASSWORD, make_person
from tests.programs.objects import a_planned_job, everyone_at_once


@pytest.fixture
def owner(db):
    """Somebody who wears every hat."""
    return everyone_at_once(make_person("the_owner", password=PASSWORD))


@pytest.fixture
def job(owner):
    return a_planned_job(owner)
