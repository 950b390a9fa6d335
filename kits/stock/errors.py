"""What the ledger refuses, told so that a person knows what is there and what to do."""

from __future__ import annotations


class LedgerError(ValueError):
    """
    An act that the ledger refuses; nothing of it was kept.

    code : for programs. column : the column of a sheet, or field of a form, that is at fault ("" for the act as a
    whole). found, expected : for a table of problems. The text is a whole sentence for people.
    """

    code = "refused"

    def __init__(self, message: str, *, column: str = "", found: str = "", expected: str = "") -> None:
        super().__init__(message)
        self.column = column
        self.found = found
        self.expected = expected or message


class NotThereError(LedgerError):
    """More was asked for than is there."""

    code = "not_there"


class LotError(LedgerError):
    """A lot that has expired, or whose last usable day was told differently before."""

    code = "lot"


class UnknownPlaceError(LedgerError):
    """A place that does not exist, or that cannot be used so."""

    code = "place"


class ContentDiffersError(LedgerError):
    """An id that was posted before with other content."""

    code = "content_differs"


class AlreadyReversedError(LedgerError):
    """A posting that was reversed before, or is itself a reversal."""

    code = "already_reversed"
