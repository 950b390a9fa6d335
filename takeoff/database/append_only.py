"""
Guards that make the database itself refuse to change or delete what was recorded.

A floor names its tables in `AppConfig.append_only`, with what to do instead. The guards are installed after every
migrate, as often as one likes: rebuilding a table on SQLite drops its triggers without a word. On SQLite they are
triggers. REPLACE deletes rows without setting off those on DELETE where `recursive_triggers` is off, as it is for any
program but ours: so an INSERT is refused that would take the place of a row, by any key that only one row may have. On
PostgreSQL they are triggers that call one function, and TRUNCATE is refused too.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.apps import AppConfig, apps
from django.db import connections, models
from django.db.backends.base.base import BaseDatabaseWrapper

FUNCTION = "reelkeep_refuse_change"
# What stands between the function's dollar signs; compared with what the database holds, so kept byte for byte.
FUNCTION_BODY = """
BEGIN
    RAISE EXCEPTION '% keeps what was recorded: %', TG_TABLE_NAME, TG_ARGV[0] USING ERRCODE = 'restrict_violation';
END
"""
EVENTS = {"sqlite": ("UPDATE", "DELETE", "INSERT"), "postgresql": ("UPDATE", "DELETE", "TRUNCATE")}


@dataclass(frozen=True, slots=True)
class Guard:
    """
    One guard: the table it stands on, the event it refuses, and what a person does instead.

    keys : the columns, or sets of columns, that only one row of the table may have.
    """

    table: str
    event: str
    remedy: str
    keys: tuple[tuple[str, ...], ...]

    @property
    def name(self) -> str:
        """The trigger's name in the database."""
        return f"guard_{self.table}_{self.event.lower()}"


def wanted_guards(connection: BaseDatabaseWrapper, app_config: AppConfig | None = None) -> list[Guard]:
    """Return the guards that one floor, or all floors, must have on the database of `connection`."""
    configs = [app_config] if app_config else list(apps.get_app_configs())
    return [
        Guard(config.get_model(model)._meta.db_table, event, remedy, _keys(config.get_model(model)))
        for config in configs
        for model, remedy in getattr(config, "append_only", {}).items()
        for event in EVENTS[connection.vendor]
    ]


def _keys(model: type[models.Model]) -> tuple[tuple[str, ...], ...]:
    meta = model._meta
    own = [(str(field.column),) for field in meta.concrete_fields if field.unique]
    columns = {field.name: str(field.column) for field in meta.concrete_fields}
    joint = [tuple(columns[name] for name in each.fields) for each in meta.total_unique_constraints]
    return (*own, *joint)


def installed_guards(connection: BaseDatabaseWrapper) -> set[str]:
    """Return the names of the guards that are in place, switched on, and say what this module would have them say."""
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute(
                "SELECT name, sql FROM sqlite_master WHERE type = 'trigger' AND name LIKE 'guard\\_%' ESCAPE '\\'"
            )
            found = dict(cursor.fetchall())
            return {
                guard.name for guard in wanted_guards(connection) if found.get(guard.name) == _sqlite_trigger(guard)
            }
        cursor.execute(
            """
            SELECT t.tgname, c.relname, t.tgtype FROM pg_trigger t
            JOIN pg_class c ON c.oid = t.tgrelid JOIN pg_namespace n ON n.oid = c.relnamespace
            JOIN pg_proc p ON p.oid = t.tgfoid
            WHERE n.nspname = current_schema() AND t.tgenabled IN ('O', 'A') AND p.proname = %s AND p.prosrc = %s
            """,
            [FUNCTION, FUNCTION_BODY],
        )
        found_on = {(name, table, kind) for name, table, kind in cursor.fetchall()}
    return {
        guard.name
        for guard in wanted_guards(connection)
        if (guard.name, guard.table, _POSTGRESQL_TYPE[guard.event]) in found_on
    }


def missing_guards(connection: BaseDatabaseWrapper) -> list[Guard]:
    """Return the guards that should stand and do not."""
    installed = installed_guards(connection)
    return [guard for guard in wanted_guards(connection) if guard.name not in installed]


def install_guards(connection: BaseDatabaseWrapper, app_config: AppConfig | None = None) -> list[Guard]:
    """Put up the guards that are missing, and return them. Tables that are not there yet are left out."""
    wanted = {guard.name for guard in wanted_guards(connection, app_config)}
    tables = set(connection.introspection.table_names())
    absent = [guard for guard in missing_guards(connection) if guard.name in wanted and guard.table in tables]
    if not absent:
        return []
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(
                f"CREATE OR REPLACE FUNCTION {FUNCTION}() RETURNS trigger LANGUAGE plpgsql AS $${FUNCTION_BODY}$$"
            )
        for guard in absent:
            for statement in _statements(connection, guard):
                cursor.execute(statement)
    return absent


def lift_guards(connection: BaseDatabaseWrapper) -> None:
    """Take the guards down. Only for emptying a test database; the next migrate puts them up again."""
    tables = set(connection.introspection.table_names())
    with connection.cursor() as cursor:
        for guard in wanted_guards(connection):
            if guard.table in tables:
                cursor.execute(_drop(connection, guard))


def install_after_migrate(sender: AppConfig, using: str, **_kwargs: Any) -> None:
    """Put up a floor's guards once its tables are migrated; a receiver of `post_migrate`."""
    install_guards(connections[using], sender)


# pg_trigger.tgtype: row 1, before 2, delete 8, update 16, truncate 32.
_POSTGRESQL_TYPE = {"UPDATE": 1 + 2 + 16, "DELETE": 1 + 2 + 8, "TRUNCATE": 2 + 32}


def _sqlite_trigger(guard: Guard) -> str:
    message = f"{guard.table} keeps what was recorded: {guard.remedy}".replace("'", "''")
    return (
        f'CREATE TRIGGER "{guard.name}" BEFORE {guard.event} ON "{guard.table}" {_in_place_of_a_row(guard)}'
        f"BEGIN SELECT RAISE(ABORT, '{message}'); END"
    )


def _in_place_of_a_row(guard: Guard) -> str:
    """Return the condition on which an INSERT is refused: that a row is there with one of the new row's keys."""
    if guard.event != "INSERT":
        return ""
    same = (" AND ".join(f'"{column}" = NEW."{column}"' for column in key) for key in guard.keys)
    # Names come from the models.
    return "WHEN " + " OR ".join(f'EXISTS (SELECT 1 FROM "{guard.table}" WHERE {each})' for each in same) + " "  # noqa: S608


def _drop(connection: BaseDatabaseWrapper, guard: Guard) -> str:
    on_table = "" if connection.vendor == "sqlite" else f' ON "{guard.table}"'
    return f'DROP TRIGGER IF EXISTS "{guard.name}"{on_table}'


def _statements(connection: BaseDatabaseWrapper, guard: Guard) -> list[str]:
    if connection.vendor == "sqlite":
        return [_drop(connection, guard), _sqlite_trigger(guard)]
    level = "STATEMENT" if guard.event == "TRUNCATE" else "ROW"
    remedy = guard.remedy.replace("'", "''")
    return [
        _drop(connection, guard),
        f'CREATE TRIGGER "{guard.name}" BEFORE {guard.event} ON "{guard.table}" '
        f"FOR EACH {level} EXECUTE FUNCTION {FUNCTION}('{remedy}')",
    ]
