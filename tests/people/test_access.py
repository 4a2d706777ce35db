"""Every address of the site against the table of access."""

from dataclasses import dataclass
from itertools import product

import pytest
from django.conf import settings
from django.db import transaction
from django.test import Client
from django.urls import URLPattern, get_resolver, reverse

from shopflow.people.access import ACTS, STATION_ACTS, Act, may
from shopflow.people.models import Role, User
from shopflow.people.page_access import OWN_PASSWORD_PAGES, PAGES, Page
from shopflow.people.sessions import BADGE
from tests.objects import arguments_for, named_by
from tests.people_fixtures import make_person


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
# Logging in and out have tests of their own (test_log_in.py): they begin and end the session that this walk goes with.
WALKED_ALONE = {"people:log_in", "people:station_log_in", "people:log_out"}
WALKED = sorted(
    ((name, arguments) for name, arguments in ADDRESSES if name in PAGES and name not in WALKED_ALONE),
    key=lambda pair: named_by(*pair),
)
WAYS = {"get": "see", "post": "send"}


def ids(pairs):
    return [name for name, _ in pairs]


@dataclass(frozen=True)
class Walkers:
    """Everybody by role, and the key of a session of each, as after a log-in; "station": the lead, by badge."""

    everybody: dict
    sessions: dict


@dataclass(frozen=True)
class Place:
    """One address with what it names, and everybody who may try it."""

    name: str
    address: str
    walkers: Walkers

    def needs(self, method):
        return getattr(PAGES[self.name], WAYS[method])

    def let_in(self, client, who):
        client.cookies[settings.SESSION_COOKIE_NAME] = self.walkers.sessions[who]


@pytest.fixture(scope="module")
def walkers(rows_of_the_file):
    """Made once for all addresses: nobody needs to log in anew some thousand times."""
    everybody = {role: make_person(f"walking_{role}", role, badge_digest=f"{role:0>64}") for role in Role.values}
    everybody["stranger"] = make_person("walking_stranger")
    sessions = {role: session_of(person) for role, person in everybody.items()}
    lead = everybody[Role.LEAD]
    return Walkers(everybody, sessions | {"station": session_of(lead, **{BADGE: lead.badge_digest})})


def session_of(person, **more):
    client = Client()
    client.force_login(person)
    session = client.session
    session.update(more)
    session.save()
    return session.session_key


class Things:
    """What an address names may be a whole job: made once for the addresses that name the same, which come one after
    another; their tests each go back to it."""

    def __init__(self, everybody):
        self.everybody, self.key, self.values, self.rows = everybody, None, {}, None

    def of(self, name, arguments):
        if self.key != named_by(name, arguments):
            self.forget()
            self.rows = transaction.atomic()
            self.rows.__enter__()
            self.key, self.values = named_by(name, arguments), arguments_for(name, arguments, self.everybody)
        return {argument: self.values[argument] for argument in arguments}

    def forget(self):
        if self.rows:
            transaction.set_rollback(True)
            self.rows.__exit__(None, None, None)


@pytest.fixture(scope="module")
def things(walkers):
    made = Things(walkers.everybody)
    yield made
    made.forget()


@pytest.fixture(scope="module", params=WALKED, ids=ids(WALKED))
def made_once(request, walkers, things):
    name, arguments = request.param
    return Place(name, reverse(name, kwargs=things.of(name, arguments)), walkers)


# Whoever the table lets in may be refused all the same: how much it takes depends on where the job or lot stands.
ASKS_FOR_MORE = {"workflow:advance", "floor:start"}


def send(client, method, address):
    """The answer, read to its end: a file that is sent is closed by that."""
    answer = getattr(client, method)(address)
    if answer.streaming:
        b"".join(answer.streaming_content)
    return answer


@pytest.fixture
def place(made_once, db):
    return made_once


@pytest.mark.parametrize("name", ids(ADDRESSES))
def test_every_address_is_in_the_table(name):
    assert name in PAGES, f"add a line for {name} to shopflow/people/page_access.py PAGES"


def test_the_table_lists_no_address_that_is_gone():
    assert set(PAGES) - set(ids(ADDRESSES)) == set()


def test_no_address_stands_twice():
    assert len(set(ids(ADDRESSES))) == len(ADDRESSES)


@pytest.mark.parametrize("name", PAGES)
def test_every_address_answers_to_some_method(name):
    assert PAGES[name] != Page(None, None)


@pytest.mark.parametrize("name", sorted(set(PAGES) - WALKED_ALONE))
def test_nothing_but_logging_in_and_out_is_open_to_all(name):
    assert Act.OPEN not in (PAGES[name].see, PAGES[name].send)


def test_somebody_unknown_is_sent_to_log_in(client, place):
    for method in WAYS:
        answer = send(client, method, place.address)
        assert answer.status_code == 302, method
        assert answer.url.startswith(reverse("people:log_in")), method


def test_a_person_without_a_role_is_refused(client, place):
    place.let_in(client, "stranger")
    for method in WAYS:
        expected = 403 if place.needs(method) else 405
        assert send(client, method, place.address).status_code == expected, method


def test_a_page_opens_to_the_roles_of_the_table_only(client, place):
    for role, method in product(Role.values, WAYS):
        place.let_in(client, role)
        act = place.needs(method)
        status = send(client, method, place.address).status_code
        if act is None:
            assert status == 405, (role, method)
        elif role in ACTS[act]:
            # 404 and 409: somebody before in this walk may have taken the thing away.
            refused = 403 if place.name in ASKS_FOR_MORE else None
            assert status in (200, 204, 302, 303, 400, 404, 409, 422, refused), (role, method)
        else:
            assert status == 403, (role, method)


def test_a_method_that_a_page_does_not_know_is_refused(client, place):
    place.let_in(client, Role.LEAD)
    for method in ("put", "patch", "delete"):
        assert send(client, method, place.address).status_code == 405, method


def test_a_page_opens_at_a_station_only_for_what_is_done_there(client, place):
    place.let_in(client, "station")
    for method in WAYS:
        act = place.needs(method)
        if act and act not in STATION_ACTS:
            assert send(client, method, place.address).status_code == 403, method


def test_a_temporary_password_opens_only_the_page_that_changes_it(client, place):
    User.objects.filter(pk=place.walkers.everybody[Role.LEAD].pk).update(password_is_temporary=True)
    place.let_in(client, Role.LEAD)
    for method in WAYS:
        if not place.needs(method):
            continue
        answer = send(client, method, place.address)
        leads_away = answer.status_code == 302 and answer.url == reverse("people:me")
        refused = answer.status_code == 403
        assert refused or leads_away != (place.name in OWN_PASSWORD_PAGES), method


@pytest.mark.parametrize("act", [act for act in Act if act != Act.OPEN])
def test_somebody_who_left_may_nothing(lead, act):
    lead.is_active = False
    assert not may(lead, act)


@pytest.mark.parametrize("act", Act)
def test_every_act_is_given_to_a_role(act):
    assert ACTS[act]
