"""What a closing connection leaves to SQLite, and what PostgreSQL is told when one opens."""

import sqlite3

import pytest
from django.db import connection

from config.settings import database


def open_one(path) -> sqlite3.Connection:
    factory = database(f"sqlite:///{path}")["OPTIONS"]["factory"]
    return sqlite3.connect(path, factory=factory, isolation_level=None)


def grow(books: sqlite3.Connection) -> None:
    books.execute("CREATE TABLE moves (id INTEGER PRIMARY KEY, item INTEGER)")
    books.execute("CREATE INDEX by_item ON moves (item)")
    books.executemany("INSERT INTO moves (item) VALUES (?)", [(number % 7,) for number in range(2000)])
    books.execute("SELECT * FROM moves WHERE item = 3").fetchall()  # only what was asked is counted


def counted(path) -> list:
    with sqlite3.connect(path) as books:
        known = books.execute("SELECT name FROM sqlite_master WHERE name = 'sqlite_stat1'").fetchall()
        return books.execute("SELECT tbl FROM sqlite_stat1").fetchall() if known else []


def test_a_closing_connection_has_grown_tables_counted(tmp_path):
    books = open_one(tmp_path / "books.sqlite3")
    grow(books)
    assert counted(tmp_path / "books.sqlite3") == []

    books.close()

    assert counted(tmp_path / "books.sqlite3") == [("moves",)]
    books.close()  # closing twice is no error


def test_a_connection_closes_at_once_while_somebody_writes(tmp_path):
    books = open_one(tmp_path / "books.sqlite3")
    books.execute("PRAGMA busy_timeout = 60000")
    grow(books)
    with sqlite3.connect(tmp_path / "books.sqlite3", isolation_level=None) as writer:
        writer.execute("BEGIN IMMEDIATE")
        books.close()
        writer.execute("ROLLBACK")
    with pytest.raises(sqlite3.ProgrammingError, match="closed"):
        books.execute("SELECT 1")
    assert counted(tmp_path / "books.sqlite3") == []


@pytest.mark.django_db
@pytest.mark.skipif(connection.vendor != "postgresql", reason="PostgreSQL compiles queries")
def test_postgresql_does_not_compile_queries():
    with connection.cursor() as cursor:
        cursor.execute("SHOW jit")
        assert cursor.fetchone() == ("off",)


def test_options_in_the_address_of_the_database_stay():
    options = database("postgres://somebody@localhost/books?options=-c%20work_mem=8MB&sslmode=disable")["OPTIONS"]
    assert options == {"options": "-c work_mem=8MB -c jit=off", "sslmode": "disable"}
