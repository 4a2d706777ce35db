"""The way into a new shop."""

import io

import pytest
from django.core.management import CommandError, call_command

from shopflow.people.models import Role, User
from tests.people_fixtures import PASSWORD


@pytest.fixture
def typed(monkeypatch):
    def type_in(text):
        monkeypatch.setattr("sys.stdin", io.StringIO(text))

    return type_in


def test_make_lead_makes_a_lead_who_can_log_in(db, typed):
    typed(f"{PASSWORD}\n")
    call_command("make_lead", "anna", "--name", "Anna Brook", stdout=io.StringIO())
    anna = User.objects.get()
    assert anna.holds(Role.LEAD)
    assert anna.check_password(PASSWORD)
    assert not anna.password_is_temporary


def test_make_lead_refuses_a_shop_with_people(viewer, typed):
    typed(f"{PASSWORD}\n")
    with pytest.raises(CommandError, match="people in this shop already"):
        call_command("make_lead", "anna")


def test_make_lead_refuses_an_easy_password_in_words(db, typed):
    typed("12345678\n")
    with pytest.raises(CommandError, match="too common"):
        call_command("make_lead", "anna")
    assert not User.objects.exists()
