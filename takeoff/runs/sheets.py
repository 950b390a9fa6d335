"""The tables `runs`, `conductors` and `stages`; ends, sections and crossings are in `part_sheets.py`."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from takeoff.catalogue.models import VoltageClass
from takeoff.runs import part_sheets, services
from takeoff.runs.geometry import warnings
from takeoff.runs.models import Conductor, Measurement, Run, Stage
from takeoff.runs.run_doubts import look_at_runs
from takeoff.sheets.cells.columns import Column
from takeoff.sheets.cells.kinds import Choice, Day, Moment, Reference, Text, Whole
from takeoff.sheets.cells.measured import Length, Percent
from takeoff.sheets.context import LoadContext
from takeoff.sheets.matching import match
from takeoff.sheets.registry import by_name, register, register_follower, register_reference
from takeoff.sheets.saving import save_matched
from takeoff.sheets.table_kinds import DescriptionTable, Row
from takeoff.sites.models import Site, StageName
from takeoff.units.sizes import size_for

MUCH_SLACK = Decimal("0.2")
CENTRE_LINE = Length(above_zero=True, usual=part_sheets.LONG_RUN)


class RunsTable(DescriptionTable):
    """Cable buses, each from an item of equipment to another."""

    name = "runs"
    order = 60
    help = "Cable buses, each from an item of equipment to another."
    columns = (
        Column("run", Text(60), "The run's name.", required=True, example="R-101"),
        Column("from", Text(120), "The equipment it comes from.", required=True, example="Transformer T1"),
        Column("to", Text(120), "The equipment it goes to.", required=True, example="Switchgear S1"),
        Column("tiers", Whole(least=1, most=4), "Layers of conductors.", required=True),
        Column("phases", Whole(least=1, most=3), "Phases.", required=True),
        Column("cables_per_phase", Whole(least=1, most=99), "Conductors of each phase.", required=True),
        Column("cable", Reference(to="cable"), "The cable of the phases.", required=True),
        Column("description", Text(200), "What it feeds.", default=""),
        Column("neutrals", Whole(most=99), "Neutral conductors in all, not per phase.", default=0),
        Column("neutral_cable", Reference(to="cable"), "The cable of the neutrals.", default_help="the cable"),
        Column("ground_cable", Reference(to="cable"), "The cable of the ground conductors.", default_help="not given"),
        Column("ground_cables", Whole(most=99), "Ground conductors; 0: the framework is the path.", default=1),
        Column(
            "voltage_class",
            Choice(tuple(VoltageClass.values)),
            "LV to 1000 V, MV above.",
            default_help="as the cable's",
        ),
        Column("location", Choice(tuple(Run.Location.values)), "Where it runs.", default=Run.Location.INDOOR.value),
        Column("breaker_amps", Whole(least=1, most=20000), "Rating of the breaker.", default_help="not given"),
        Column("slack_percent", Percent(), "Cable added to the length.", default=Decimal(0)),
        Column(
            "pull_allowance", part_sheets.STICK_OUT, "Cable added to each conductor for the pull.", default=Decimal(0)
        ),
        Column(
            "centre_spacing",
            Length(needs_unit=True, above_zero=True),
            "Distance of cable centres, both ways.",
            default_help="twice the cable's diameter",
        ),
        Column("drawing_length", CENTRE_LINE, "Centre line that the drawing states.", default_help="none"),
        Column(
            "as_built_length",
            CENTRE_LINE,
            "Centre line measured on site; a new value is added, earlier ones are kept.",
            default_help="not measured",
        ),
        Column("revision", Text(20), "Revision of the drawing.", default=""),
        Column("crew", Text(60), "Who builds it.", default=""),
    )
    key = ("run",)
    names = {"run": "run"}

    def save(self, context: LoadContext, rows: Sequence[Row]) -> None:
        """Create and change runs, make their conductors, and keep what was measured."""
        existing = dict(context.lookup("run"))
        latest = _latest_of_runs(context.site)
        for run in existing.values():
            run.as_built = latest.get(run.pk)
        for row in rows:
            if row["slack_percent"] >= MUCH_SLACK:
                percent = f"{(row['slack_percent'] * 100).normalize():f} %"
                context.caution(row, "slack_percent", f"is {percent} of the whole length meant?")
            _refuse_small(context, row)
            _refuse_class(context, row, existing.get(row["run"]))
        matched = match(
            context,
            rows,
            model=Run,
            existing=existing,
            key=lambda row: row["run"],
            identity=lambda row: {"site": context.site, "name": row["run"]},
            values=lambda row: _run_values(row, existing.get(row["run"])),
            columns=COLUMN_OF,
            besides=frozenset({"as_built"}),
        )
        save_matched(context, matched)
        refused = services.derive_conductors(site=context.site, runs=[run for _row, run in matched.pairs])
        drawn = part_sheets.drawn_lines(context.site, [run.pk for run in existing.values()])
        for row, run in matched.pairs:
            if run.pk in refused:
                context.problem(row, "cables_per_phase", expected=f"no fewer conductors: {refused[run.pk].messages[0]}")
            length = row["as_built_length"]
            if length is None or length == latest.get(run.pk):
                continue
            if part_sheets.look_at_measured(context, row, "as_built_length", length, drawn.get(run.pk, Decimal(0))):
                context.report(row, "lengths", run=run, length=length, note=part_sheets.LOADED)


def _refuse_small(context: LoadContext, row: Row) -> None:
    """Refuse conductors smaller than the site's code allows."""
    if context.site.code != warnings.NFPA_70:
        return
    for column in ("cable", "neutral_cable") if row["neutrals"] else ("cable",):
        if row[column] and warnings.too_small(row[column].size):
            expected = (
                f"a cable of {size_for(warnings.SMALLEST_CONDUCTOR, context.site.unit)} or larger "
                f"({warnings.SMALLEST_SOURCE}). {warnings.DECIDES}"
            )
            context.problem(row, column, expected=expected)


def _refuse_class(context: LoadContext, row: Row, run: Run | None) -> None:
    """Refuse a cable of another voltage class than the run's, which is the cable's where nobody says one."""
    said = row["voltage_class"] or (run.voltage_class if run and not row.gives("voltage_class") else None)
    if said and said != row["cable"].voltage_class:
        column = "voltage_class" if row["voltage_class"] else "cable"
        context.problem(
            row, column, found=f"{said} on {row['cable']}", expected=f"a {said} cable: {row['cable']} is not one"
        )


COLUMN_OF = {
    "from_equipment": "from",
    "to_equipment": "to",
    "cable_id": "cable",
    "neutral_cable_id": "neutral_cable",
    "ground_cable_id": "ground_cable",
    "slack": "slack_percent",
    "as_built": "as_built_length",
}
AS_THEY_ARE = (
    *("tiers", "phases", "cables_per_phase", "description", "neutrals", "ground_cables", "location", "breaker_amps"),
    *("pull_allowance", "centre_spacing", "drawing_length", "revision", "crew"),
)


def _run_values(row: Row, run: Any) -> dict[str, Any]:
    values = {name: row[name] for name in AS_THEY_ARE}
    values["from_equipment"], values["to_equipment"] = row["from"], row["to"]
    for name in ("cable", "neutral_cable", "ground_cable"):
        values[f"{name}_id"] = row[name].pk if row[name] else None
    values["voltage_class"] = row["voltage_class"] or row["cable"].voltage_class
    values["slack"] = row["slack_percent"]
    # An empty cell takes no measurement back.
    measured = row["as_built_length"]
    values["as_built"] = run.as_built if measured is None and run is not None else measured
    return values


class ConductorsTable(DescriptionTable):
    """Where the drawing places conductors. The conductors themselves follow from the run."""

    name = "conductors"
    order = 100
    help = (
        "Where the drawing places the conductors of a run, seen from its from end. The conductors themselves follow "
        "from the run; the rows of a run replace all that was said of its conductors."
    )
    columns = (
        part_sheets.RUN,
        Column("conductor", Text(10), "Its name: A1, B2, N1, G1.", required=True, example="A1"),
        Column("tier", Whole(least=1, most=4), "Its tier, 1 at the bottom.", required=True),
        Column("position", Whole(least=1, most=99), "Its place in the tier, 1 at the left.", required=True),
        Column("extra", part_sheets.STICK_OUT, "Cable that it needs beyond the others.", default=Decimal(0)),
    )
    key = ("run", "conductor")
    replaces = "run"

    def save(self, context: LoadContext, rows: Sequence[Row]) -> None:
        """Place the conductors that the rows name, and take the places of the others back."""
        runs = {row["run"].pk: row["run"] for row in rows}
        conductors: dict[int, dict[str, Conductor]] = {pk: {} for pk in runs}
        for conductor in Conductor.objects.of(context.site).filter(run__in=runs):
            conductors[conductor.run_id][conductor.name] = conductor
        changed: list[Conductor] = []
        named = set()
        taken: dict[tuple[int, int, int], Row] = {}
        for row in rows:
            known = conductors[row["run"].pk]
            found = known.get(row["conductor"].upper())
            if found is None:
                context.problem(row, "conductor", expected=f"a conductor of {row['run']}: {', '.join(known)}")
                continue
            named.add(found.pk)
            place = row["run"].pk, row["tier"], row["position"]
            if row["tier"] > row["run"].tiers:
                context.problem(row, "tier", expected=f"1 to {row['run'].tiers}, as the run has tiers")
            elif place in taken:
                other = taken[place]
                context.problem(row, "position", expected=f"a free place: {other['conductor']} has it already")
            taken[place] = row
            if _place(context, row, found):
                changed.append(found)
        for known in conductors.values():
            for conductor in known.values():
                if conductor.pk not in named and _placed(conductor) != UNPLACED:
                    context.count(self.name, "removed", f"{runs[conductor.run_id]} {conductor.name}")
                    conductor.tier, conductor.position, conductor.extra = UNPLACED
                    changed.append(conductor)
        services.place_conductors(site=context.site, conductors=changed)


UNPLACED = (None, None, Decimal(0))
Placed = tuple[int | None, int | None, Decimal]


def _placed(conductor: Conductor) -> Placed:
    return conductor.tier, conductor.position, conductor.extra


def _place(context: LoadContext, row: Row, conductor: Conductor) -> bool:
    """Set where a conductor is placed, count it, and return whether that differs."""
    was, wanted = _placed(conductor), (row["tier"], row["position"], row["extra"])
    key = " ".join(row.key)
    if was == wanted:
        context.count("conductors", "unchanged", key)
        return False
    if was == UNPLACED:
        context.count("conductors", "new", key)
    else:
        details = f"tier {was[0]}, position {was[1]} → tier {wanted[0]}, position {wanted[1]}"
        context.count("conductors", "changed", key, (details,))
    conductor.tier, conductor.position, conductor.extra = wanted
    return True


class StagesTable(DescriptionTable):
    """When each stage of a run is planned and was done."""

    name = "stages"
    order = 110
    help = "When each stage of a run is planned and was done. A run without rows has all five, open and undated."
    columns = (
        part_sheets.RUN,
        Column("stage", Choice(tuple(StageName.values)), "The stage.", required=True),
        Column("planned", Day(), "The day it is planned for.", default_help="undated"),
        Column(
            "done",
            Moment(end_of_day=True),
            "When it was done; a date alone is the end of that day.",
            default_help="open",
        ),
    )
    key = ("run", "stage")

    def save(self, context: LoadContext, rows: Sequence[Row]) -> None:
        """Create and change stages."""
        runs = {row["run"].pk for row in rows}
        existing = {(stage.run_id, stage.stage): stage for stage in Stage.objects.of(context.site).filter(run__in=runs)}
        was = {key: stage.done for key, stage in existing.items()}
        matched = match(
            context,
            rows,
            model=Stage,
            existing=existing,
            key=lambda row: (row["run"].pk, row["stage"]),
            identity=lambda row: {"run": row["run"], "stage": row["stage"]},
            values=lambda row: {"planned": row["planned"], "done": row["done"]},
            besides=frozenset({"done"}),
        )
        for row, stage in matched.pairs:
            if row["done"] is not None and row["done"].date() > context.site.local_date(context.now):
                context.caution(row, "done", "lies in the future")
            if row.gives("done") and row["done"] != was.get((stage.run_id, stage.stage)):
                context.report(row, "stage_reports", run=row["run"], stage=row["stage"], done=row["done"])
        save_matched(context, matched)


def _latest_of_runs(site: Site) -> dict[int, Decimal]:
    """Return the latest measured centre line of every run, by primary key."""
    rows = Measurement.objects.of(site).filter(section_seq=None).order_by("at", "pk")
    return dict(rows.values_list("run_id", "length"))


register_reference("run", by_name(Run.objects.of))
register(RunsTable())
part_sheets.register_all()
register(ConductorsTable())
register(StagesTable())
register_follower(tables={"cables", "runs", "ends", "sections"}, follow=look_at_runs)
