"""Work that makes many small things at once, without the garbage collector looking through them again and again."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def uninterrupted() -> Iterator[None]:
    """
    Hold the cyclic garbage collector off for a while; what is not in a cycle is freed as ever.

    A load makes some hundred thousand tuples and rows that all live until its end; the collector would walk over them
    dozens of times and find nothing, which takes a third of the time. Limits on rows and cells bound what can pile up.
    """
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
