"""The table `site`: what holds for the whole job."""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, ClassVar
from zoneinfo import available_timezones

from django.core.exceptions import ValidationError

from takeoff.people.services import save_site
from takeoff.sheets.cells.columns import Column, InMetres
from takeoff.sheets.cells.kinds import Choice, Dates, Kind, Names, Number, Text, Whole, YesNo, as_text
from takeoff.sheets.cells.measured import Length, Percent
from takeoff.sheets.cells.problems import CellError
from takeoff.sheets.context import LoadContext
from takeoff.sheets.registry import register
from takeoff.sheets.table_kinds import DescriptionTable, Row
from takeoff.sites.models import Site
from takeoff.units.country import habit_of


@dataclass(frozen=True, slots=True)
class Currency(Kind):
    """A currency by its three letters."""

    label: ClassVar[str] = "currency"

    def read(self, cell: Any) -> str:
        """Return three capitals."""
        text = as_text(cell).upper()
        if len(text) != 3 or not (text.isascii() and text.isalpha()):
            raise CellError("the three letters of a currency, such as USD")
        return text


@dataclass(frozen=True, slots=True)
class Country(Kind):
    """A country by its two letters."""

    label: ClassVar[str] = "country"

    def read(self, cell: Any) -> str:
        """Return two capitals of a country whose habits are known."""
        text = as_text(cell).upper()
        try:
            return text if habit_of(text).country else ""
        except ValueError:
            raise CellError("the two letters of a country, such as US or NO") from None


@dataclass(frozen=True, slots=True)
class TimeZone(Kind):
    """A time zone by its name."""

    label: ClassVar[str] = "time zone"

    def read(self, cell: Any) -> str:
        """Return a name that the time zone database knows."""
        text = as_text(cell)
        if text not in available_timezones():
            raise CellError("a name in the time zone database, such as America/Chicago or UTC")
        return text


class SettingsTable(DescriptionTable):
    """One row with the settings of the site that is loaded."""

    name = "site"
    order = 10
    help = "The site itself, in one row. It creates the site when the slug is new; settings left out keep their value."
    columns = (
        Column("name", Text(120), "What the site is called.", required=True, example="North yard"),
        Column(
            "unit",
            Choice(tuple(Site.Unit.values), also=(("feet", "ft"), ("metres", "m"), ("meters", "m"))),
            "The unit of lengths that name none: ft (feet and inches) or m.",
            default=Site.Unit.FEET.value,
        ),
        Column(
            "code",
            Choice(tuple(Site.Code.values)),
            "The electrical code that was adopted; with other, its checks are notes only.",
            default=Site.Code.NFPA_70.value,
        ),
        Column(
            "country",
            Country(),
            "Where the site is, by two letters (ISO 3166): how its sheets write numbers and dates.",
            default="",
            default_help="not told: 2.42, 18500 and 2026-03-04 only",
            example="NO",
        ),
        Column("currency", Currency(), "Three letters (ISO 4217).", default="USD"),
        Column("timezone", TimeZone(), "Name in the time zone database.", default="UTC", example="America/Chicago"),
        Column(
            "keep_length",
            Length(usual=Decimal(30_480)),
            "The shortest end of a reel worth keeping.",
            default=Decimal(9144),
            default_help="30 ft",
            metric=InMetres(Decimal(10_000), "10 m"),
        ),
        Column(
            "mark_allowance",
            Percent(),
            "What a printed length mark may be off.",
            default=Decimal("0.01"),
            default_help="1%",
        ),
        Column(
            "mark_reading",
            Length(usual=Decimal("609.6")),
            "What two people read differently of one mark.",
            default=None,
            default_help="0.5 ft on a site in feet, 0.15 m in metres",
        ),
        Column(
            "marks_as",
            Choice(tuple(Site.MarksAs.values)),
            "How a crew finds a place between two printed marks: inches or cm on from one, or tenths.",
            default="",
            default_help="inches on a site in feet, cm in metres",
        ),
        Column(
            "safety_tail",
            Length(usual=Decimal(3048)),
            "Cable at the end of every reel that no plan uses.",
            default=Decimal("304.8"),
            default_help="1 ft",
            metric=InMetres(Decimal(300), "300 mm"),
        ),
        Column(
            "planning_grid",
            Choice(tuple(Site.Grid.values)),
            "The step in which cut plans count.",
            default="",
            default_help="0.1 ft on a site in feet, 1 mm in metres",
        ),
        Column(
            "service_level",
            Percent(least=Decimal("0.5"), most=Decimal("0.999")),
            "How sure to be that learned usage is covered, 50% to 99.9%.",
            default=Decimal("0.95"),
            default_help="95%",
        ),
        Column("buffer_days", Whole(most=365), "Days by which orders come before the need.", default=3),
        Column(
            "set_tolerance",
            Length(usual=Decimal("609.6")),
            "How far the conductors of a set may differ in length.",
            default=Decimal("152.4"),
            default_help="6 in",
            metric=InMetres(Decimal(150), "150 mm"),
        ),
        Column("concealed_days", Whole(most=365), "Business days to report concealed damage.", default=5),
        Column("claim_months", Whole(most=120), "Months to file a freight claim.", default=9),
        Column("cure_hours", Whole(most=1000), "Hours a caulked seal dries before energizing.", default=24),
        Column(
            "holidays",
            Dates(),
            "Days on which the site does not work besides Saturdays and Sundays, separated by commas.",
            default=[],
            default_help="none",
            example="2026-12-24, 2026-12-25",
        ),
        Column(
            "count_blind_above",
            Number(),
            "Worth of a listed line, in the site's currency, above which its figure shows only after it was counted.",
            default=Decimal(200),
            default_help="200",
        ),
        Column(
            "names",
            Names(),
            "Crews and people who have no account, separated by commas: forms offer them.",
            default=[],
            default_help="none",
            example="Crew A, Night shift",
        ),
        Column(
            "use_by_crew",
            YesNo(),
            "Whether planners see use against plan by crew, too, at the end of a job.",
            default=False,
            default_help="no",
        ),
        Column("ship_to", Text(500, lines=True), "Where orders are delivered.", default=""),
        Column("contact", Text(200), "Who answers a supplier's questions.", default=""),
    )
    key = ("name",)
    gone = {"prior_stages": "no such column: how much the drawing is worth as evidence is told in table usage_priors"}

    def save(self, context: LoadContext, rows: Sequence[Row]) -> None:
        """Create the site or change its settings; a site has one row."""
        row, *others = rows
        for other in others:
            context.problem(other, "name", expected="no second row: a load is of one site")
        new = context.site._state.adding
        site = copy(context.site)
        wanted = {name: value for name, value in row.values.items() if new or row.gives(name)}
        changes: list[str] = []
        for name, value in wanted.items():
            old: Any = getattr(site, name)
            if old != value:
                setattr(site, name, value)
                changes.append(f"{name}: {old} → {value}")
        if not new and not changes:
            context.count(self.name, "unchanged", site.name)
            return
        try:
            save_site(site=site)
        except ValidationError as error:
            for name, messages in error.message_dict.items():
                if name == "slug":
                    expected = "a site whose slug is of letters, digits, hyphens and underscores"
                    context.problem(row, "", found=site.slug, expected=expected)
                    continue
                column = name if name in self.by_name else ""
                for message in messages:
                    context.problem(row, column, expected=f"a setting that a site takes: {message}")
            return
        context.site = site
        context.count(self.name, "new" if new else "changed", site.name, () if new else tuple(changes))


register(SettingsTable())
