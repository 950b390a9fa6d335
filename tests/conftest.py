"""What every test stands on: a database that can be emptied, and which tests the second engine runs."""

import pytest


@pytest.fixture(autouse=True, scope="session")
def _lift_guards_while_a_test_database_is_emptied():
    """A test that commits leaves rows that the guards would keep for ever; Django empties the tables after it."""
    from django.db import connections
    from django.test import TransactionTestCase

    from takeoff.database.append_only import install_guards, lift_guards

    empty_tables = TransactionTestCase._fixture_teardown

    def without_guards(case: TransactionTestCase) -> None:
        for connection in connections.all():
            lift_guards(connection)
        empty_tables(case)
        for connection in connections.all():
            install_guards(connection)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(TransactionTestCase, "_fixture_teardown", without_guards)
        yield


@pytest.fixture(autouse=True, scope="session")
def _watch_the_order_of_locks():
    from django.db.models.query import QuerySet
    from django.db.transaction import Atomic

    from tests.lock_order import forgetting, watched

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Atomic, "__enter__", forgetting(Atomic.__enter__))
        patch.setattr(QuerySet, "_fetch_all", watched(QuerySet._fetch_all))
        yield


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--database-only", action="store_true", help="Only tests that use a database: for the second engine."
    )


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if not config.getoption("--database-only"):
        return
    ways = {"db", "transactional_db", "django_db_setup", "live_server"}
    kept = [item for item in items if item.get_closest_marker("django_db") or ways & set(item.fixturenames)]
    config.hook.pytest_deselected(items=[item for item in items if item not in set(kept)])
    items[:] = kept
