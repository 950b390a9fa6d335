"""What SQLite does when a connection to it is closed."""

from __future__ import annotations

import sqlite3
from contextlib import suppress

ROWS_LOOKED_AT = 1000  # of an index, so that closing takes no longer the more there is


class OptimizedConnection(sqlite3.Connection):
    """A connection that has SQLite count its tables anew as it closes, where they have grown since it last did."""

    def close(self) -> None:
        """Count what has to be counted, unless somebody writes just now: the next that closes will; then close."""
        with suppress(sqlite3.OperationalError, sqlite3.ProgrammingError):
            self.execute("PRAGMA busy_timeout = 0")
            self.execute(f"PRAGMA analysis_limit = {ROWS_LOOKED_AT}")
            self.execute("PRAGMA optimize")
        super().close()
