"""Fixtures for all tests.

Tests run on SQLite. Those marked `both_databases` run again on PostgreSQL (`make test-postgresql`), by
`python -m tests.services postgres pytest -m both_databases`: the same tests, with DATABASE_URL naming another server.
"""

from collections.abc import Iterator

import hypothesis
import pytest
import pytest_django
from django.db import connection, transaction
from django.test import TransactionTestCase

from shopflow.records import protect
from tests.empty_tables import EmptyTables

pytest_plugins = ["tests.people_fixtures", "tests.browser_fixtures"]

# No test is about time, and a busy machine is no fault of the code.
hypothesis.settings.register_profile("shop", deadline=None, suppress_health_check=[hypothesis.HealthCheck.too_slow])
hypothesis.settings.load_profile("shop")


EMPTY_TABLES = EmptyTables()

LONGEST_FIRST = ("browser", "supervisor")
"""Groups that one process works on for minutes: begun last, the other process would wait for their end."""


@pytest.hookimpl(wrapper=True, tryfirst=True)  # groups before pytest-xdist reads them, the order after all others
def pytest_collection_modifyitems(items: list[pytest.Item]) -> Iterator[None]:
    """Where tests run on several processes (--dist loadgroup), what belongs together stays together.

    The browser's tests share one running shop, but for those whose file serves its own; the tests of a file what the
    file sets up.
    """
    for item in items:
        if item.get_closest_marker("xdist_group"):
            continue
        if item.get_closest_marker("browser"):
            item.add_marker(pytest.mark.xdist_group("browser"))
        else:
            item.add_marker(pytest.mark.xdist_group(item.path.relative_to(item.config.rootpath).as_posix()))
    yield
    items.sort(key=lambda item: group_of(item) not in LONGEST_FIRST)


def group_of(item: pytest.Item) -> str:
    mark = item.get_closest_marker("xdist_group")
    assert mark is not None
    return str(mark.args[0])


@pytest.hookimpl(trylast=True)
def pytest_collection_finish(session: pytest.Session) -> None:
    """pytest-xdist hands groups on in the ids of tests, which a version of pytest took from it without a word."""
    if session.config.getoption("loadgroup", default=False):
        alone = [item.nodeid for item in session.items if not item.nodeid.endswith(f"@{group_of(item)}")]
        assert not alone, f"pytest and pytest-xdist of these versions keep no groups together: {alone[:3]}"


@pytest.fixture(scope="session")
def django_db_keepdb(request: pytest.FixtureRequest, django_db_modify_db_settings: None) -> bool:
    """SQLite: its file goes with the run's data folder, and begins with the tables that an earlier run laid out."""
    if connection.vendor == "sqlite":
        EMPTY_TABLES.begin(connection.creation._get_test_db_name())
    return connection.vendor == "sqlite"


@pytest.fixture(scope="session")
def django_db_setup(django_db_setup: None, django_db_blocker: pytest_django.DjangoDbBlocker) -> None:
    if connection.vendor == "sqlite":
        with django_db_blocker.unblock():
            connection.ensure_connection()
            EMPTY_TABLES.keep(connection.connection)


@pytest.fixture(scope="session", autouse=True)
def emptying_the_database_lifts_its_protection() -> Iterator[None]:
    """A transactional test ends with every table emptied, which append-only triggers refuse to anybody else."""
    plain = TransactionTestCase._fixture_teardown

    def lifted(self: TransactionTestCase) -> None:
        with protect.lifted():
            plain(self)

    TransactionTestCase._fixture_teardown = lifted
    yield
    TransactionTestCase._fixture_teardown = plain


@pytest.fixture(scope="module")
def rows_of_the_file(django_db_setup: None, django_db_blocker: pytest_django.DjangoDbBlocker) -> Iterator[None]:
    """For fixtures of a file that make rows once: each of its tests starts from them, and they end with the file."""
    with django_db_blocker.unblock(), transaction.atomic():
        yield
        transaction.set_rollback(True)
