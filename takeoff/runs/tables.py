"""The list of runs."""

from __future__ import annotations

import django_tables2 as tables

from takeoff.people.tables import LengthColumn, SiteTable
from takeoff.runs.models import Run
from takeoff.sites.models import StageName
from takeoff.units.shown import day_month_year


class RunTable(SiteTable):
    """Runs with where they go, their cable, their length and what is next."""

    caption = "Runs"
    many = True
    name = tables.Column(verbose_name="Run")
    way = tables.Column(
        accessor="from_equipment", verbose_name="From and to", order_by=("from_equipment", "to_equipment")
    )
    cables = tables.Column(accessor="cable", verbose_name="Cables", order_by=("cable__code", "cables_per_phase"))
    drawn = LengthColumn(verbose_name="As drawn", default="no sections")
    built = LengthColumn(verbose_name="As built", default="not measured")
    next_planned = tables.DateColumn(verbose_name="Next stage", format="j M Y", default="", empty_values=())
    revision = tables.Column(verbose_name="Drawing", default="none given")
    crew = tables.Column(default="none given")

    class Meta:
        empty_text = "No run here."

    def render_name(self, record: Run) -> str:
        """Link to the run's page."""
        return self.link("run", record.pk, record.name)

    def render_way(self, record: Run) -> str:
        """Name the equipment at both ends."""
        return f"{record.from_equipment} → {record.to_equipment}"

    def render_cables(self, record: Run) -> str:
        """Name the cable and how many conductors there are."""
        phases = record.phases * record.cables_per_phase
        neutrals = f" + {record.neutrals} N" if record.neutrals else ""
        grounds = f" + {record.ground_cables} G" if record.ground_cables else ""
        return f"{phases}{neutrals}{grounds} of {record.cable.code}"

    def render_next_planned(self, record: Run) -> str:
        """Name the first stage that is not done, and its day."""
        rows = {row.stage: row for row in record.stages.all()}
        for stage in StageName:
            row = rows.get(stage.value)
            if row is None or row.done is None:
                day = day_month_year(row.planned) if row and row.planned else "no date"
                return f"{stage.label}, {day}"
        return "all done"
