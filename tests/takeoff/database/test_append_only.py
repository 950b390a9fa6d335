"""The database itself refuses to change or delete what was recorded."""

import pytest
from django.core.management import call_command
from django.db import IntegrityError, connection, transaction
from django.db.models.signals import post_migrate
from django.test import TransactionTestCase

from kits.models import Posting
from takeoff.database.append_only import install_guards, installed_guards, lift_guards, missing_guards, wanted_guards
from takeoff.models import RuleBook, Site
from tests.factories.kits import PostingFactory
from tests.factories.takeoff import RuleBookFactory, SiteFactory

GUARDED = {
    "takeoff_rulebook", "takeoff_rule", "reels_cut", "reels_cutdecision",
    "reels_reelevent", "reels_reading", "reels_doubtseen", "kits_claim", "kits_claimline", "kits_claimstep",
    "kits_posting", "kits_move", "kits_receipt", "kits_receiptline", "kits_bincount", "kits_boxshare", "kits_lotday",
    "takeoff_record", "takeoff_setaside", "takeoff_asideend", "takeoff_lengthchoice",
    "takeoff_link", "takeoff_photo", "takeoff_photoremoved", "kits_arrival", "kits_arrivedpackage", "kits_truckcall",
}  # fmt: skip


@pytest.fixture
def book(db) -> RuleBook:
    return RuleBookFactory()


@pytest.fixture
def posting(db) -> Posting:
    return PostingFactory(event_id="e")


@pytest.mark.django_db
def test_every_recorded_table_is_guarded():
    assert {guard.table for guard in wanted_guards(connection)} == GUARDED
    assert installed_guards(connection) == {guard.name for guard in wanted_guards(connection)}


def test_an_update_is_refused_and_says_what_to_do(posting):
    with pytest.raises(IntegrityError, match="kits_posting keeps what was recorded: post a reversal"):
        Posting.objects.of(posting.site).update(reason="other")


def test_a_delete_is_refused(book):
    with pytest.raises(IntegrityError, match="takeoff_rulebook keeps what was recorded: publish a new version"):
        book.delete()


@pytest.mark.parametrize("table", sorted(GUARDED))
def test_both_events_of_each_table_bite(table, db):
    """Cheap proof for tables that are costly to fill: the guard's own statement is what the database holds."""
    names = {name for name in installed_guards(connection) if name.startswith(f"guard_{table}_")}
    assert {f"guard_{table}_update", f"guard_{table}_delete"} <= names


@pytest.mark.skipif(connection.vendor != "sqlite", reason="REPLACE is SQLite's")
@pytest.mark.parametrize("verb", ["REPLACE INTO", "INSERT OR REPLACE INTO"])
def test_replace_is_refused(posting, verb):
    with pytest.raises(IntegrityError, match="keeps what was recorded"), connection.cursor() as cursor:
        cursor.execute(
            f"{verb} kits_posting (id, site_id, event_id, kind, content_hash, at, recorded_at, by, reason, document) "
            "SELECT id, site_id, event_id, kind, 'other', at, recorded_at, by, reason, document FROM kits_posting"
        )


def put(cursor, verb: str, table: str, row: dict) -> None:
    marks = ", ".join(["%s"] * len(row))
    names = ", ".join(f'"{name}"' for name in row)
    with transaction.atomic():
        cursor.execute(f"{verb} INTO {table} ({names}) VALUES ({marks})", list(row.values()))


@pytest.mark.skipif(connection.vendor != "sqlite", reason="REPLACE is SQLite's")
@pytest.mark.django_db
@pytest.mark.parametrize("table", sorted(GUARDED))
def test_replace_is_refused_where_triggers_do_not_recurse_as_in_any_other_program(table):
    """By every key of every table, one at a time, of a row in which every column is filled."""
    (guard,) = (each for each in wanted_guards(connection) if (each.table, each.event) == (table, "INSERT"))
    with connection.cursor() as cursor, transaction.atomic():
        cursor.execute("PRAGMA recursive_triggers = OFF")
        cursor.execute("PRAGMA ignore_check_constraints = ON")
        try:
            cursor.execute(f"PRAGMA table_info({guard.table})")
            kinds = {name: kind for _, name, kind, *_ in cursor.fetchall()}
            whole = ("integer", "bigint", "bool", "smallint")
            row = {name: 1 if kind.lower().startswith(whole) else "a" for name, kind in kinds.items()}
            other = {name: 2 if value == 1 else "b" for name, value in row.items()}
            put(cursor, "INSERT", guard.table, row)
            for key in guard.keys:
                same = {**other, **{column: row[column] for column in key}}
                with pytest.raises(IntegrityError, match="keeps what was recorded"):
                    put(cursor, "REPLACE", guard.table, same)
            put(cursor, "REPLACE", guard.table, other)  # takes nobody's place
            cursor.execute(f"SELECT count(*) FROM {guard.table}")
            assert cursor.fetchone() == (2,)
        finally:
            cursor.execute("PRAGMA ignore_check_constraints = OFF")
            cursor.execute("PRAGMA recursive_triggers = ON")
            transaction.set_rollback(True)  # its row points nowhere


@pytest.mark.skipif(connection.vendor != "postgresql", reason="TRUNCATE is PostgreSQL's")
def test_truncate_is_refused(posting):
    connection.check_constraints()  # else PostgreSQL minds the checks outstanding first
    with pytest.raises(IntegrityError, match="keeps what was recorded"), connection.cursor() as cursor:
        cursor.execute("TRUNCATE kits_posting CASCADE")


@pytest.mark.skipif(connection.vendor != "postgresql", reason="only PostgreSQL can switch a trigger off")
def test_a_guard_that_is_switched_off_counts_as_missing(posting):
    connection.check_constraints()  # a table with checks outstanding cannot be altered
    with connection.cursor() as cursor:
        cursor.execute("ALTER TABLE kits_move DISABLE TRIGGER guard_kits_move_delete")
    assert [guard.name for guard in missing_guards(connection)] == ["guard_kits_move_delete"]
    install_guards(connection)
    assert missing_guards(connection) == []


@pytest.mark.django_db
def test_a_guard_that_says_nothing_counts_as_missing():
    lift_guards(connection)
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("CREATE TRIGGER guard_kits_move_update BEFORE UPDATE ON kits_move BEGIN SELECT 1; END")
        else:
            cursor.execute("CREATE FUNCTION hollow() RETURNS trigger LANGUAGE plpgsql AS 'BEGIN RETURN NEW; END'")
            cursor.execute(
                "CREATE TRIGGER guard_kits_move_update BEFORE UPDATE ON kits_move "
                "FOR EACH ROW EXECUTE FUNCTION hollow()"
            )
    assert installed_guards(connection) == set()
    install_guards(connection)
    assert missing_guards(connection) == []


@pytest.mark.django_db
def test_installing_twice_changes_nothing():
    assert install_guards(connection) == []


@pytest.mark.django_db(transaction=True)
def test_a_table_rebuilt_by_a_migration_has_its_guards_back_after_migrate():
    """On SQLite a changed field rebuilds the table, which drops its triggers without a word."""
    field = Posting._meta.get_field("document")
    wider = type(field)(max_length=500, blank=True)
    wider.set_attributes_from_name("document")
    wider.model = Posting
    with connection.constraint_checks_disabled(), connection.schema_editor() as editor:
        editor.alter_field(Posting, field, wider)
        if connection.vendor == "sqlite":
            editor._remake_table(Posting)
    if connection.vendor == "sqlite":
        assert {guard.table for guard in missing_guards(connection)} == {"kits_posting"}

    call_command("migrate", verbosity=0)

    assert missing_guards(connection) == []


@pytest.mark.django_db
def test_tables_that_are_not_there_yet_are_passed_over():
    """Migrating one floor alone sends the signal for all of them."""
    from django.apps import apps

    lift_guards(connection)
    config = apps.get_app_config("kits")
    post_migrate.send(sender=config, app_config=config, verbosity=0, interactive=False, using="default")
    assert {guard.table for guard in missing_guards(connection)} == {
        table for table in GUARDED if not table.startswith("kits")
    }


@pytest.mark.django_db(transaction=True)
def test_guards_stand_again_after_a_test_database_was_emptied():
    with transaction.atomic():
        site = SiteFactory(slug="kept")
        RuleBookFactory(site=site)

    TransactionTestCase("run")._fixture_teardown()  # as it ends every test that commits

    assert Site.objects.filter(slug="kept").count() == 0
    assert missing_guards(connection) == []
