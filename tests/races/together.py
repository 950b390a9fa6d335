"""Two people at once: threads that meet where it matters."""

import contextlib
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

from django.db import connection, connections

PATIENCE = 0.7  # seconds that one waits for the other to read, too


def at_once(*acts: Callable[[], Any]) -> list[Any]:
    """Run each act in a thread with its own connection; return what each returned or raised."""

    def alone(act: Callable[[], Any]) -> Any:
        try:
            return act()
        except Exception as error:
            return error
        finally:
            connections.close_all()

    with ThreadPoolExecutor(len(acts)) as pool:
        return [future.result() for future in [pool.submit(alone, act) for act in acts]]


def meeting(function: Callable[..., Any], people: int = 2) -> Callable[..., Any]:
    """Wrap `function` so that all who called it go on together, or after a while without those who cannot come."""
    barrier = threading.Barrier(people)

    def met(*args: Any, **kwargs: Any) -> Any:
        result = function(*args, **kwargs)
        with contextlib.suppress(threading.BrokenBarrierError):  # the others wait for a lock that this thread holds
            barrier.wait(PATIENCE)
        return result

    return met


def without_lock_at_start(act: Callable[[], Any]) -> Callable[[], Any]:
    """On SQLite, where the transaction is the lock: let it take none until it writes."""

    def unlocked() -> Any:
        if connection.vendor == "sqlite":
            connection.ensure_connection()
            connection.transaction_mode = "DEFERRED"
        return act()

    return unlocked
