"""What closing refuses, told so that a person knows what to do."""

from __future__ import annotations


class FiguresMovedError(Exception):
    """What finished stages say of a class of use is no longer what was seen."""

    def __init__(self, usage: str) -> None:
        super().__init__(f"What finished stages say of {usage} has changed since: look at the new figures first.")
        self.usage = usage
