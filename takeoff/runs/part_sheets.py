"""The tables `ends`, `sections` and `crossings`: each replaces the whole set of the runs that it names."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from decimal import Decimal
from typing import Any, TypeVar

from django.db.models import Model, Sum

from takeoff.runs import services
from takeoff.runs.geometry import as_built
from takeoff.runs.models import Crossing, Measurement, RunEnd, Section
from takeoff.runs.run_doubts import GONE, look_at_seal, without_gone
from takeoff.sheets.cells.columns import Column, InMetres
from takeoff.sheets.cells.kinds import Choice, Number, Reference, Text, Whole, YesNo
from takeoff.sheets.cells.measured import Length
from takeoff.sheets.context import LoadContext
from takeoff.sheets.matching import Matched, match
from takeoff.sheets.registry import register
from takeoff.sheets.saving import save_matched
from takeoff.sheets.table_kinds import DescriptionTable, Row
from takeoff.sites.models import Site
from takeoff.units.exact import to_ticks
from takeoff.units.shown import near

M = TypeVar("M", bound=Model)
LONGEST_STRAIGHT = Decimal("7315.2")  # 24 ft
LONGEST_STICK_OUT = Decimal(4572)  # 15 ft
LONG_RUN = Decimal(304_800)  # 1000 ft
LOADED = "loaded from a sheet"  # the note of a length that a sheet of runs or sections tells
STICK_OUT = Length(usual=LONGEST_STICK_OUT)
RUN = Column("run", Reference(to="run"), "The run.", required=True)


def _small(name: str, what: str, default_help: str = "not given") -> Column:
    """Return a column of a length small enough that it needs its unit."""
    return Column(name, Length(needs_unit=True, above_zero=True), what, default_help=default_help)


def _told(length: Decimal, context: LoadContext) -> str:
    return near(to_ticks(length), context.site.unit)


def _run_ids(rows: Sequence[Row]) -> set[int]:
    return {row["run"].pk for row in rows}


class EndsTable(DescriptionTable):
    """Where runs meet equipment."""

    name = "ends"
    order = 70
    help = "Where runs meet equipment, two rows a run. The rows of a run replace its ends."
    columns = (
        RUN,
        Column("end", Choice(tuple(RunEnd.End.values)), "Which end.", required=True),
        Column("stick_out", STICK_OUT, "Cable beyond the enclosure for termination.", default=Decimal(0)),
        Column("min_stick_out", STICK_OUT, "The least that can be terminated.", default_help="the stick-out"),
        Column("ground_tail", STICK_OUT, "Ground cable beyond the enclosure.", default=Decimal(0)),
        Column("lug_holes", Whole(least=1, most=12), "Holes of a lug.", default=2),
        Column("ground_lug_holes", Whole(least=1, most=12), "Holes of a ground lug.", default=2),
        Column("seal", Choice(tuple(RunEnd.Seal.values)), "The seal.", default=RunEnd.Seal.NONE.value),
        _small("seal_width", "Width of the seal plate."),
        _small("seal_height", "Height of the seal plate."),
        GONE,
    )
    key = ("run", "end")
    replaces = "run"

    def save(self, context: LoadContext, rows: Sequence[Row]) -> None:
        """Bring the ends of the runs to the rows."""
        for row in rows:
            if row["stick_out"] > LONGEST_STICK_OUT:
                context.caution(row, "stick_out", f"is over {_told(LONGEST_STICK_OUT, context)}")
            least = row["min_stick_out"]
            if least is not None and least > row["stick_out"]:
                context.problem(row, "min_stick_out", expected="no more than the stick-out")
            look_at_seal(context, row, "seal_width", "seal_height")
        existing = _parts(context, self, RunEnd, rows)
        save_matched(context, _matched(context, self, RunEnd, rows, existing))


class SectionsTable(DescriptionTable):
    """The enclosure, piece by piece."""

    name = "sections"
    order = 80
    help = "The enclosure piece by piece, from the from end. The rows of a run replace its sections."
    columns = (
        RUN,
        Column("seq", Whole(least=1, most=100_000), "Its place along the run.", required=True),
        Column("kind", Choice(tuple(Section.Kind.values)), "What it is.", required=True),
        Column(
            "length",
            Length(usual=LONGEST_STRAIGHT),
            "Along the centre line.",
            required=True,
            example="12 ft",
            metric=InMetres(example="3.6 m"),
        ),
        Column("lie", Choice(tuple(Section.Lie.values)), "How it lies.", default=Section.Lie.HORIZONTAL.value),
        Column(
            "angle", Number(above=True, most=Decimal(180)), "What it turns, in degrees.", default_help="90 for an elbow"
        ),
        Column(
            "turn",
            Choice(tuple(Section.Turn.values)),
            "Which way it turns, going from the from end.",
            default="",
            default_help="not given",
        ),
        _small("radius", "Radius of the bend along the centre line."),
        Column("cover", YesNo(), "Whether it has a cover.", default_help="yes, but no for an expansion"),
        Column("item", Reference(to="item"), "The item that the section itself is.", default_help="none"),
        Column("mark", Text(30), "Its mark on the drawing.", default=""),
        Column("cover_item", Reference(to="item"), "The item that its cover is.", default_help="none"),
        Column(
            "as_built",
            Length(above_zero=True, usual=LONGEST_STRAIGHT),
            "Its length measured on site; a new value is added, earlier ones are kept.",
            default_help="not measured",
        ),
        GONE,
    )
    key = ("run", "seq")
    replaces = "run"

    def save(self, context: LoadContext, rows: Sequence[Row]) -> None:
        """Bring the sections of the runs to the rows, and keep what was measured."""
        runs = _run_ids(rows)
        latest = _latest_of_sections(context.site, runs)
        existing = _parts(context, self, Section, rows)
        for (run, seq), section in existing.items():
            section.as_built = latest.get((run, seq))
        for row in rows:
            if row["kind"] == Section.Kind.STRAIGHT and row["length"] > LONGEST_STRAIGHT:
                context.caution(row, "length", f"is a straight over {_told(LONGEST_STRAIGHT, context)}")

        matched = _matched(
            context,
            self,
            Section,
            rows,
            existing,
            values=lambda row: _section_values(row, latest),
            columns={"item_id": "item", "cover_item_id": "cover_item"},
            besides=frozenset({"as_built"}),
        )
        drawn = drawn_lines(context.site, runs)
        services.forget_measurements(site=context.site, sections=matched.removed)
        save_matched(context, matched)
        for row, section in matched.pairs:
            length = row["as_built"]
            if length is None or length == latest.get((section.run_id, section.seq)):
                continue
            if look_at_measured(context, row, "as_built", length, row["length"]):
                context.report(row, "lengths", run=row["run"], length=length, section=row["seq"], note=LOADED)
        _look_at_runs(context, rows, drawn)


def look_at_measured(context: LoadContext, row: Row, column: str, measured: Decimal, drawn: Decimal) -> bool:
    """
    Refuse a measured length that no run can have, and ask for a second look at one far off the drawn. [mm]

    Returns whether it can be kept.
    """
    ticks, line, unit = to_ticks(measured), to_ticks(drawn), context.site.unit
    limit = as_built.most(ticks, line, unit=unit)
    if limit:
        context.problem(row, column, found=f"{near(ticks, unit)} as built", expected=limit)
    elif as_built.far_off(ticks, line):
        off = f"more than {as_built.FAR_OFF} % off the drawn {near(line, unit)}"
        context.caution(row, column, f"{near(ticks, unit)} as built is {off}")
    return not limit


def drawn_lines(site: Site, runs: Iterable[int]) -> dict[int, Decimal]:
    """Return the drawn centre line of runs that have sections, by primary key. [mm]"""
    sections = Section.objects.of(site).filter(run__in=runs).order_by().values("run_id").annotate(total=Sum("length"))
    return {row["run_id"]: row["total"] for row in sections}


def _look_at_runs(context: LoadContext, rows: Sequence[Row], before: Mapping[int, Decimal]) -> None:
    """
    Hold what this load says that whole runs measure against the sections that come with it.

    before : their drawn lines until now, against which the sheet of runs has looked already. [mm]
    """
    first = {row["run"].pk: row for row in reversed(rows)}
    drawn = drawn_lines(context.site, first)
    for report in context.reports:
        run = report["run"].pk
        if run in first and report["section"] is None and drawn[run] != before.get(run):
            look_at_measured(context, first[run], "run", report["length"], drawn[run])


def _section_values(row: Row, latest: dict[tuple[int, int], Decimal]) -> dict[str, Any]:
    given = row.values
    cover, item, cover_item, measured = given["cover"], given["item"], given["cover_item"], given["as_built"]
    return {
        "kind": given["kind"],
        "lie": given["lie"],
        "length": given["length"],
        "angle": given["angle"],
        "turn": given["turn"],
        "radius": given["radius"],
        "cover": given["kind"] != Section.Kind.EXPANSION if cover is None else cover,
        "item_id": item.pk if item else None,
        "mark": given["mark"],
        "cover_item_id": cover_item.pk if cover_item else None,
        # An empty cell takes no measurement back.
        "as_built": latest.get((given["run"].pk, given["seq"])) if measured is None else measured,
    }


def _latest_of_sections(site: Site, runs: set[int]) -> dict[tuple[int, int], Decimal]:
    """Return the latest measured length of every section of the runs, by run and place."""
    rows = Measurement.objects.of(site).filter(run__in=runs, section_seq__isnull=False).order_by("at", "pk")
    latest = rows.values_list("run_id", "section_seq", "length")
    return {(run, seq): length for run, seq, length in latest if seq is not None}


class CrossingsTable(DescriptionTable):
    """Where runs pass walls and floors."""

    name = "crossings"
    order = 90
    help = "Where runs pass walls and floors. The rows of a run replace its crossings."
    columns = (
        RUN,
        Column(
            "at",
            Length(usual=LONG_RUN),
            "Along the centre line from the from end.",
            required=True,
            example="40 ft",
            metric=InMetres(example="12 m"),
        ),
        Column("kind", Choice(tuple(Crossing.Kind.values)), "What it passes.", required=True),
        _small("width", "Width of the opening."),
        _small("height", "Height of the opening."),
        _small("depth", "Thickness of the wall or floor."),
        Column("fire_rated", YesNo(), "Whether it needs a firestop.", default=False),
        Column("seal", Choice(tuple(RunEnd.Seal.values)), "The seal.", default=RunEnd.Seal.NONE.value),
        GONE,
    )
    key = ("run", "at", "kind")
    replaces = "run"

    def save(self, context: LoadContext, rows: Sequence[Row]) -> None:
        """Bring the crossings of the runs to the rows."""
        runs = _run_ids(rows)
        lengths = drawn_lines(context.site, runs)
        for row in rows:
            if row["run"].pk in lengths and row["at"] > lengths[row["run"].pk]:
                context.caution(row, "at", "lies beyond the end of the run")
            look_at_seal(context, row, "width", "height")
        existing = _parts(context, self, Crossing, rows)
        save_matched(context, _matched(context, self, Crossing, rows, existing))


def _parts(context: LoadContext, table: DescriptionTable, model: Any, rows: Sequence[Row]) -> dict[Any, Any]:
    """Return the parts that the runs of the rows have, by run and the rest of the table's key."""
    parts = model.objects.of(context.site).filter(run__in=_run_ids(rows)).select_related("run")
    return {(part.run_id, *(getattr(part, name) for name in table.key[1:])): part for part in parts}


def _matched(
    context: LoadContext,
    table: DescriptionTable,
    model: type[M],
    rows: Sequence[Row],
    existing: Mapping[Any, M],
    *,
    values: Callable[[Row], dict[str, Any]] | None = None,
    **more: Any,
) -> Matched[M]:
    """Match rows with the parts that their runs have, those left out that are gone. values : all but the key."""
    own = table.key[1:]
    names = [column.name for column in table.columns if column.name not in {*table.key, GONE.name}]

    def key(row: Row) -> tuple[Any, ...]:
        return row["run"].pk, *(row[name] for name in own)

    return match(
        context,
        without_gone(context, rows, key=key, existing=existing, column=own[0]),
        table=table,
        model=model,
        existing=existing,
        key=key,
        identity=lambda row: {"run_id": row["run"].pk, **{name: row[name] for name in own}},
        values=values or (lambda row: {name: row[name] for name in names}),
        **more,
    )


def register_all() -> None:
    """Register the three tables."""
    register(EndsTable())
    register(SectionsTable())
    register(CrossingsTable())
