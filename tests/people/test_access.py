"""Every address of the site against the table of access."""

from itertools import product

import pytest
from django.urls import URLPattern, get_resolver, reverse

from shopflow.people.access import ACTS, OWN_PASSWORD_PAGES, PAGES, STATION_ACTS, Act, Page, may
from shopflow.people.models import Role, RoleGrant
from tests.objects import arguments_for


def addresses():
    """(name with its app, names of its arguments) of each pattern the resolver knows."""

    def walk(patterns, namespace, outer):
        for entry in patterns:
            arguments = outer + list(entry.pattern.converters)
            if isinstance(entry, URLPattern):
                yield ":".join(filter(None, [namespace, entry.name or "?"])), arguments
            else:
                deeper = ":".join(filter(None, [namespace, entry.namespace]))
                yield from walk(entry.url_patterns, deeper, arguments)

    return sorted(walk(get_resolver().url_patterns, "", []), key=lambda pair: pair[0])


ADDRESSES = addresses()
# Its own tests (test_log_in.py) say what it does: it ends the session that this walk goes with.
WALKED_ALONE = {"people:log_out"}
LISTED = [(name, arguments) for name, arguments in ADDRESSES if name in PAGES and name not in WALKED_ALONE]
GUARDED = [(name, arguments) for name, arguments in LISTED if Act.OPEN not in (PAGES[name].see, PAGES[name].send)]
BEHIND_OWN_PASSWORD = [(name, arguments) for name, arguments in GUARDED if name not in OWN_PASSWORD_PAGES]
WAYS = {"get": "see", "post": "send"}


def ids(pairs):
    return [name for name, _ in pairs]


@pytest.fixture
def address_of(everybody):
    return lambda name, arguments: reverse(name, kwargs=arguments_for(name, arguments, everybody))


def needed(name, method):
    return getattr(PAGES[name], WAYS[method])


@pytest.mark.parametrize("name", ids(ADDRESSES))
def test_every_address_is_in_the_table(name):
    assert name in PAGES, f"add a line for {name} to shopflow/people/access.py PAGES"


def test_the_table_lists_no_address_that_is_gone():
    assert set(PAGES) - set(ids(ADDRESSES)) == set()


def test_no_address_stands_twice():
    assert len(set(ids(ADDRESSES))) == len(ADDRESSES)


@pytest.mark.parametrize("name", PAGES)
def test_every_address_answers_to_some_method(name):
    assert PAGES[name] != Page(None, None)


@pytest.mark.parametrize(("name", "arguments"), GUARDED, ids=ids(GUARDED))
def test_somebody_unknown_is_sent_to_log_in(client, address_of, name, arguments):
    address = address_of(name, arguments)
    for method in WAYS:
        answer = getattr(client, method)(address)
        assert answer.status_code == 302, method
        assert answer.url.startswith(reverse("people:log_in")), method


@pytest.mark.parametrize(("name", "arguments"), GUARDED, ids=ids(GUARDED))
def test_a_person_without_a_role_is_refused(client, stranger, address_of, name, arguments):
    address = address_of(name, arguments)
    client.force_login(stranger)
    for method in WAYS:
        expected = 403 if needed(name, method) else 405
        assert getattr(client, method)(address).status_code == expected, method


@pytest.mark.parametrize(("name", "arguments"), LISTED, ids=ids(LISTED))
def test_a_page_opens_to_the_roles_of_the_table_only(client, everybody, address_of, name, arguments):
    address = address_of(name, arguments)
    for role, method in product(Role.values, WAYS):
        client.force_login(everybody[role])
        act = needed(name, method)
        answer = getattr(client, method)(address)
        answer.getvalue()  # a file that is handed over stays open until it was read
        status = answer.status_code
        if act is None:
            assert status == 405, (role, method)
        elif role in ACTS[act]:
            # 404 and 409: somebody before in this walk may have taken the thing away.
            assert status in (200, 204, 302, 303, 400, 404, 409, 422), (role, method)
        else:
            assert status == 403, (role, method)


@pytest.mark.parametrize(("name", "arguments"), LISTED, ids=ids(LISTED))
def test_a_method_that_a_page_does_not_know_is_refused(client, lead, address_of, name, arguments):
    address = address_of(name, arguments)
    client.force_login(lead)
    for method in ("put", "patch", "delete"):
        assert getattr(client, method)(address).status_code == 405, method


@pytest.mark.parametrize(("name", "arguments"), GUARDED, ids=ids(GUARDED))
def test_a_page_opens_at_a_station_only_for_what_is_done_there(client, lead, address_of, name, arguments):
    address = address_of(name, arguments)
    log_in_at_station(client, lead)
    for method in WAYS:
        act = needed(name, method)
        if act and act not in STATION_ACTS:
            assert getattr(client, method)(address).status_code == 403, method


@pytest.mark.parametrize(("name", "arguments"), BEHIND_OWN_PASSWORD, ids=ids(BEHIND_OWN_PASSWORD))
def test_a_temporary_password_opens_only_the_page_that_changes_it(client, lead, address_of, name, arguments):
    address = address_of(name, arguments)
    RoleGrant.objects.create(user=lead, role=Role.REVIEWER)  # what a lead alone may not do needs a person who may
    lead.password_is_temporary = True
    lead.save()
    client.force_login(lead)
    for method in WAYS:
        if needed(name, method):
            assert getattr(client, method)(address).url == reverse("people:me"), method


def log_in_at_station(client, person):
    from shopflow.people.sessions import BADGE

    person.badge_digest = "0" * 64
    person.save()
    client.force_login(person)
    session = client.session
    session[BADGE] = person.badge_digest
    session.save()


@pytest.mark.parametrize("act", [act for act in Act if act != Act.OPEN])
def test_somebody_who_left_may_nothing(lead, act):
    lead.is_active = False
    assert not may(lead, act)


@pytest.mark.parametrize("act", Act)
def test_every_act_is_given_to_a_role(act):
    assert ACTS[act]
