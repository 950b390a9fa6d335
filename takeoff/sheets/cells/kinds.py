"""
Kinds of columns: how a cell becomes a value, and what is said when it does not. Pure: no Django.

A kind reads a cell by itself (`read`), or gives a reader for a column of a load (`reader`). A cell arrives as openpyxl
or the csv module gives it: text, whole number, float, bool, date or datetime, never None.
"""

from __future__ import annotations

import re
from calendar import monthrange
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from decimal import Decimal, InvalidOperation
from difflib import get_close_matches
from functools import cache
from typing import Any, ClassVar
from unicodedata import normalize

from takeoff.sheets.cells.problems import CellError
from takeoff.units.country import CountryError, Habit
from takeoff.units.exact import NotExactError, from_ticks, to_ticks
from takeoff.units.shown import decimal

MOST = Decimal(10**9)  # in one cell, so that the sums of a whole site stay within the books
ANY_NUMBER = 2_000_000_000  # the largest whole number of a column without a limit of its own

Reader = Callable[[Any], Any]
_PASS_FOR = str.maketrans({"l": "1", "I": "1", "|": "1", "O": "0", "o": "0"})


@dataclass(frozen=True, slots=True)
class Reading:
    """What a cell's meaning depends on besides its column: the site's unit, time zone, money, and country's habit."""

    unit: str = "ft"
    tz: tzinfo = UTC
    money_digits: int = 2
    habit: Habit = field(default_factory=Habit)


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of column. `label` names it in the documentation, `choices` are offered as a drop-down."""

    label: ClassVar[str] = ""
    # What a text cell holds that countries write differently: number, length, day; empty where they do not.
    notation: ClassVar[str] = ""

    def plainly(self, text: str, habit: Habit) -> str:
        """Return a text cell as readers take it, from how the site's country writes it. Raises CellError."""
        try:
            if self.notation == "day":
                return habit.day(text)
            return habit.number(text, length=self.notation == "length") if self.notation else text
        except CountryError as error:
            raise CellError(error.expected) from None

    @property
    def choices(self) -> tuple[str, ...]:
        """Return the values that the column takes, none when it takes any."""
        return ()

    def header_unit(self, text: str) -> str | None:
        """Return the unit that a header names in brackets, None when this kind has no such unit."""
        return None

    def reader(self, reading: Reading, unit: str | None) -> Reader:
        """Return the function that reads one cell; `unit` is the header's, None when it names none."""
        return self.read

    def read(self, cell: Any) -> Any:
        """Return the value of a cell, where it depends on nothing else. Raises CellError."""
        raise NotImplementedError("a kind says how to read a cell here, or in `reader`")

    def written(self, value: Any) -> str:
        """Return the one spelling of a value that every reader of this kind reads as that value again."""
        if isinstance(value, bool):
            return "yes" if value else "no"
        if isinstance(value, Decimal):
            return f"{value.normalize():f}"
        if isinstance(value, datetime):
            return value.astimezone(UTC).isoformat()
        return value.isoformat() if isinstance(value, date) else str(value)


@dataclass(frozen=True, slots=True)
class Text(Kind):
    """
    Words, stripped. A number stays as it is typed, a date is refused: a spreadsheet made it from something else.

    Line breaks become spaces, unless `lines` keeps them.
    """

    label: ClassVar[str] = "text"
    longest: int = 200
    lines: bool = False

    def read(self, cell: Any) -> str:
        """Return text."""
        text = cell.strip() if cell.__class__ is str else as_text(cell)
        if len(text) > self.longest:
            raise CellError(f"at most {self.longest} characters, there are {len(text)}")
        if not text.isprintable():
            parts = [" ".join(line.split()) for line in text.splitlines()]
            text = ("\n" if self.lines else " ").join(part for part in parts if part)
            if not all(part.isprintable() for part in parts):
                raise CellError("text without control characters")
        return text


@dataclass(frozen=True, slots=True)
class Email(Kind):
    """An e-mail address."""

    label: ClassVar[str] = "e-mail"
    _PATTERN: ClassVar[re.Pattern[str]] = re.compile(r"[^@\s,;<>()]{1,64}@[^@\s,;<>()]+\.[^@\s,;<>().]{2,63}")

    def read(self, cell: Any) -> str:
        """Return an address."""
        text = as_text(cell)
        if len(text) > 254 or not self._PATTERN.fullmatch(text):
            raise CellError("an e-mail address such as orders@example.com")
        return text


@dataclass(frozen=True, slots=True)
class Whole(Kind):
    """A whole number, in the range that is given."""

    label: ClassVar[str] = "whole number"
    notation: ClassVar[str] = "number"
    least: int = 0
    most: int = ANY_NUMBER

    def read(self, cell: Any) -> int:
        """Return an int."""
        expected = f"a whole number from {self.least} to {self.most}"
        if self.most == ANY_NUMBER:
            expected = f"a whole number, {self.least} or more"
        number = as_decimal(cell, expected)
        if number != number.to_integral_value() or not self.least <= number <= self.most:
            raise CellError(expected)
        return int(number)


@dataclass(frozen=True, slots=True)
class Number(Kind):
    """A number with at most four decimal places."""

    label: ClassVar[str] = "number"
    notation: ClassVar[str] = "number"
    least: Decimal | None = Decimal(0)
    above: bool = False
    most: Decimal | None = None

    def read(self, cell: Any) -> Decimal:
        """Return a Decimal."""
        expected = "a number with at most four decimal places"
        if self.least is not None:
            expected += f", above {self.least}" if self.above else f", {self.least} or more"
        if self.most is not None:
            expected += f", at most {self.most}"
        number = exact(as_decimal(cell, expected), expected)
        if self.least is not None and (number < self.least or (self.above and number == self.least)):
            raise CellError(expected)
        if self.most is not None and number > self.most:
            raise CellError(expected)
        return number


@dataclass(frozen=True, slots=True)
class Money(Kind):
    """An amount of the site's currency, given as whole minor units (cents)."""

    label: ClassVar[str] = "money"
    notation: ClassVar[str] = "number"

    def reader(self, reading: Reading, unit: str | None) -> Reader:
        """Return a reader that gives whole minor units."""
        digits = reading.money_digits
        expected = f"an amount of money with at most {digits} decimal places" if digits else "a whole amount of money"

        def read(cell: Any) -> int:
            minor = as_decimal(cell, expected).scaleb(digits)
            if minor != minor.to_integral_value() or not 0 <= minor < 10**15:
                raise CellError(expected)
            return int(minor)

        return read


@dataclass(frozen=True, slots=True)
class Choice(Kind):
    """One of a few words, case, spaces, hyphens and underscores ignored; `also` gives other words for some of them."""

    label: ClassVar[str] = "one of"
    values: tuple[str, ...] = ()
    also: tuple[tuple[str, str], ...] = ()

    @property
    def choices(self) -> tuple[str, ...]:
        """Return the words."""
        return self.values

    def read(self, cell: Any) -> str:
        """Return the word as it is kept."""
        text = as_text(cell)
        try:
            return _by_plain_word(self)[plain_word(text)]
        except KeyError:
            raise CellError(one_of(self.values, text)) from None


@cache
def _by_plain_word(choice: Choice) -> dict[str, str]:
    words = {plain_word(word): value for word, value in choice.also}
    return words | {plain_word(value): value for value in choice.values}


@dataclass(frozen=True, slots=True)
class Choices(Kind):
    """One or more of a few words, separated by commas; given as one text, each word once, in the order of the list."""

    label: ClassVar[str] = "one or more of"
    values: tuple[str, ...] = ()

    def read(self, cell: Any) -> str:
        """Return the words joined by a comma and a space."""
        one = Choice(self.values)
        found = {one.read(part) for part in as_text(cell).split(",")}
        return ", ".join(value for value in self.values if value in found)


@dataclass(frozen=True, slots=True)
class YesNo(Kind):
    """Yes or no."""

    label: ClassVar[str] = "yes or no"
    _WORDS: ClassVar[dict[str, bool]] = {
        **dict.fromkeys(("yes", "y", "true", "1"), True),
        **dict.fromkeys(("no", "n", "false", "0"), False),
    }

    @property
    def choices(self) -> tuple[str, ...]:
        """Return the two words."""
        return ("yes", "no")

    def read(self, cell: Any) -> bool:
        """Return a bool."""
        if cell.__class__ is bool:
            return bool(cell)
        try:
            return self._WORDS[as_text(cell).lower()]
        except KeyError:
            raise CellError("yes or no") from None


@dataclass(frozen=True, slots=True)
class Day(Kind):
    """A date: a date cell, or text such as 2026-03-04."""

    label: ClassVar[str] = "date"
    notation: ClassVar[str] = "day"

    def read(self, cell: Any) -> date:
        """Return a date."""
        moment = as_moment(cell, "a date such as 2026-03-04")
        if isinstance(moment, datetime):
            if moment.time() != time():
                raise CellError("a date without a time, such as 2026-03-04")
            return moment.date()
        return moment


@dataclass(frozen=True, slots=True)
class LastDay(Day):
    """The last day of something: a date, or a month such as 2026-03, which ends on its last day."""

    label: ClassVar[str] = "date, or month"
    _MONTH: ClassVar[re.Pattern[str]] = re.compile(r"(\d{4})-(\d{2})")

    def plainly(self, text: str, habit: Habit) -> str:
        """Return a text as it is where it is a month, which no country writes otherwise here."""
        return text if self._MONTH.fullmatch(text.strip()) else Day.plainly(self, text, habit)

    def read(self, cell: Any) -> date:
        """Return a date."""
        if isinstance(cell, str) and (month := self._MONTH.fullmatch(cell.strip())):
            year, number = map(int, month.groups())
            if 1 <= number <= 12 and year:
                return date(year, number, monthrange(year, number)[1])
        return Day.read(self, cell)


@dataclass(frozen=True, slots=True)
class Dates(Kind):
    """Dates separated by commas, given as a list of texts such as 2026-12-25, earliest first."""

    label: ClassVar[str] = "dates"

    def read(self, cell: Any) -> list[str]:
        """Return dates as texts."""
        parts = [part.strip() for part in cell.split(",")] if isinstance(cell, str) else [cell]
        return sorted({Day().read(part).isoformat() for part in parts})


@dataclass(frozen=True, slots=True)
class Names(Kind):
    """Names separated by commas, each once however it is spelled, as a list by name."""

    label: ClassVar[str] = "names"
    longest: int = 2000
    length: int = 60

    def read(self, cell: Any) -> list[str]:
        """Return names as a list."""
        if not isinstance(cell, str):
            raise CellError("names, separated by commas")
        parts = normalize("NFC", Text(self.longest).read(cell)).split(",")
        names = {name.casefold(): name for part in reversed(parts) if (name := " ".join(part.split()))}
        if long := next((name for name in names.values() if len(name) > self.length), None):
            raise CellError(f"names of at most {self.length} characters: {long}")
        return [names[key] for key in sorted(names)]


@dataclass(frozen=True, slots=True)
class Moment(Kind):
    """
    A date, or a date and time in the site's time zone.

    A date alone is the start of that day, or its last microsecond with `end_of_day`.
    """

    label: ClassVar[str] = "date, or date and time"
    notation: ClassVar[str] = "day"
    end_of_day: bool = False

    def reader(self, reading: Reading, unit: str | None) -> Reader:
        """Return a reader that gives an aware datetime."""

        def read(cell: Any) -> datetime:
            moment = as_moment(cell, "a date, or a date and time, such as 2026-03-04 or 2026-03-04 14:30")
            if isinstance(moment, datetime) and (moment.tzinfo is not None or moment.time() != time()):
                return moment if moment.tzinfo else moment.replace(tzinfo=reading.tz)
            if self.end_of_day:
                following = moment + timedelta(days=1)
                start = datetime(following.year, following.month, following.day, tzinfo=reading.tz)
                return (start.astimezone(UTC) - timedelta(microseconds=1)).astimezone(reading.tz)
            return datetime(moment.year, moment.month, moment.day, tzinfo=reading.tz)

        return read


@dataclass(frozen=True, slots=True)
class Reference(Text):
    """
    The name of something else: a run, an item. `to` is the kind of thing, as registered with `register_reference`.

    The framework puts the thing itself (a model instance) into the row before the table's hook sees it.
    """

    label: ClassVar[str] = "name of"
    longest: int = 120
    to: str = ""


def as_text(cell: Any) -> str:
    """Return a cell as stripped text; a whole float reads as a whole number. Refuses dates and yes/no cells."""
    if cell.__class__ is str:
        return str(cell).strip()
    if isinstance(cell, bool):
        return "TRUE" if cell else "FALSE"
    if isinstance(cell, int):
        return str(cell)
    if isinstance(cell, float | Decimal):
        number = Decimal(repr(cell)) if isinstance(cell, float) else cell
        return f"{number.to_integral_value() if number == number.to_integral_value() else number:f}"
    if isinstance(cell, date | datetime | time | timedelta):
        raise CellError("text, not a date: the spreadsheet made a date of it, so format the cell as text")
    raise CellError("text")


def as_decimal(cell: Any, expected: str) -> Decimal:
    """Return a cell as a Decimal, or refuse it naming what was expected."""
    number: Decimal | None = None
    if cell.__class__ is int:
        number = Decimal(cell)
    elif cell.__class__ is float:
        number = Decimal(repr(cell))  # `1e999` in a workbook is infinity
    elif cell.__class__ is str:
        try:
            number = Decimal(cell.strip()) if len(cell) <= 40 and "_" not in cell else None
        except InvalidOperation:
            number = None
        if number is not None and number.is_finite() and abs(number.adjusted()) >= 20:
            number = None
    elif isinstance(cell, date | datetime | time | timedelta):
        raise CellError(f"{expected}, not a date: the spreadsheet made a date of it, so format the cell as text")
    if number is None or not number.is_finite():
        raise CellError(expected)
    return number


def as_moment(cell: Any, expected: str) -> date:
    """Return a cell as a date or datetime, or refuse it naming what was expected."""
    if isinstance(cell, date):
        found: date = cell
    elif cell.__class__ is str:
        text = cell.strip()
        try:
            found = date.fromisoformat(text) if len(text) == 10 else datetime.fromisoformat(text)
        except ValueError:
            raise CellError(expected) from None
        if not (len(text) >= 10 and text[4] == "-"):
            raise CellError(expected)
    else:
        raise CellError(expected)
    if not 1990 <= found.year <= 2200:
        raise CellError(f"{expected}, with a year from 1990 to 2200")
    return found


def exact(number: Decimal, expected: str) -> Decimal:
    """Return a number that four decimal places hold and the books can add up, or refuse it."""
    if abs(number) > MOST:
        raise CellError(f"{expected}, at most {decimal(MOST)}")
    try:
        return from_ticks(to_ticks(number))
    except NotExactError:
        raise CellError(expected) from None


def plain_word(text: str) -> str:
    """Return a word without case, spaces, hyphens and underscores."""
    return re.sub(r"[\s_-]+", "", text).casefold()


def lookalike(text: str) -> str:
    """Return a name with the letters that pass for digits as digits, and in one case: `CBD-l` and `CBD-1` are alike."""
    return text.translate(_PASS_FOR).casefold().translate(_PASS_FOR)


def with_article(noun: str) -> str:
    """Return a noun with its article: `an item`, `a run`."""
    return f"{'an' if noun[:1] in 'aeiou' else 'a'} {noun}"


def one_of(values: Iterable[str], found: str = "") -> str:
    """Return `one of a, b, c`, with the one that was probably meant."""
    known = list(values)
    near = get_close_matches(found.casefold(), [value.casefold() for value in known], n=1)
    meant = next((value for value in known if near and value.casefold() == near[0]), "")
    hint = f" (did you mean {meant}?)" if meant else ""
    if len(known) > 60:
        return f"a name that is known{hint}"
    return f"one of {', '.join(known)}{hint}"
