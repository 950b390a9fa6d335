"""Why a record is not in the books. Rooms raise it with a sentence that a person can act on."""

from __future__ import annotations


class RecordError(ValueError):
    """
    A record that cannot be kept as it stands; nothing of it was.

    code : for programs. column : the column of a sheet, or field of a form, that is at fault ("" for the whole record).
    found, expected : for a table of problems. lacks : what would have to be there, such as `stock` or `bin Shelf 4`;
    empty where the record contradicts what is kept. malformed : no history could make it right. The text is a whole
    sentence for people.
    """

    code = "refused"
    malformed = False

    def __init__(self, message: str, *, column: str = "", found: str = "", expected: str = "", lacks: str = "") -> None:
        super().__init__(message)
        self.column = column
        self.found = found
        self.expected = expected or message
        self.lacks = lacks


class MalformedError(RecordError):
    """A record that says something that cannot be, whatever else happened."""

    code = "malformed"
    malformed = True


class OtherContentError(RecordError):
    """An id that was kept before with other content."""

    code = "content_differs"
    malformed = True


class AskFirstError(RecordError):
    """A record that a person must look at before a page keeps it; `said` one sentence each, `question` their hash."""

    code = "ask"

    def __init__(self, said: tuple[str, ...], question: str) -> None:
        super().__init__(" ".join(said))
        self.said = said
        self.question = question
