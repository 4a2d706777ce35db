"""The people of the tests: one for each role, and a stranger who holds none."""

import pytest

from shopflow.people.models import Role, RoleGrant, User

PASSWORD = "seven brass fittings"


def make_person(username, *roles, password=None, **fields):
    """A person with these roles; without a password they can only be logged in by force."""
    person = User(username=username, full_name=username.replace("_", " ").title(), **fields)
    if password:
        person.set_password(password)
    else:
        person.set_unusable_password()
    person.save()
    RoleGrant.objects.bulk_create(RoleGrant(user=person, role=role) for role in roles)
    return person


def _fixture_for(role):
    @pytest.fixture(name=str(role))
    def person(db):
        return make_person(f"the_{role}", role)

    return person


lead = _fixture_for(Role.LEAD)
programmer = _fixture_for(Role.PROGRAMMER)
reviewer = _fixture_for(Role.REVIEWER)
machinist = _fixture_for(Role.MACHINIST)
inspector = _fixture_for(Role.INSPECTOR)
viewer = _fixture_for(Role.VIEWER)


@pytest.fixture
def stranger(db):
    """Somebody who can log in and holds no role."""
    return make_person("the_stranger")


@pytest.fixture
def everybody(lead, programmer, reviewer, machinist, inspector, viewer, stranger):
    """All of them by role; the stranger under "stranger"."""
    people = [lead, programmer, reviewer, machinist, inspector, viewer]
    return dict(zip(Role.values, people, strict=True), stranger=stranger)
