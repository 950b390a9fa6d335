"""The list of runs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import django_tables2 as tables
from django.template.loader import render_to_string
from django.utils.html import format_html
from django.utils.safestring import SafeString

from kits.shortages.reckon.arrivals import StageLine
from kits.shortages.told.of_stage import next_of, short_in_words
from takeoff.people.tables import LengthColumn, SiteTable, cells
from takeoff.runs.models import Run
from takeoff.units.shown import day_month_year

ROOMY = cells("roomy")


class RunTable(SiteTable):
    """
    Runs with their five stages and what the next of them lacks, where they are built, their cable and their length.

    stages : of each run, by its key.
    """

    caption = "Runs"
    many = True
    name = tables.Column(verbose_name="Run")
    five = tables.Column(verbose_name="Stages", empty_values=(), orderable=False, attrs=cells("figure"))
    next_planned = tables.Column(verbose_name="Next stage", empty_values=(), attrs=cells("told"))
    way = tables.Column(
        accessor="from_equipment",
        verbose_name="From and to",
        order_by=("from_equipment", "to_equipment"),
        attrs=cells("told"),
    )
    cables = tables.Column(
        accessor="cable", verbose_name="Cables", order_by=("cable__code", "cables_per_phase"), attrs=ROOMY
    )
    drawn = LengthColumn(verbose_name="As drawn", default="no sections")
    built = LengthColumn(verbose_name="As built", default="not measured")
    revision = tables.Column(verbose_name="Drawing", default="", attrs=ROOMY)
    crew = tables.Column(default="", attrs=ROOMY)

    class Meta:
        empty_text = "No run here."

    def __init__(self, *args: Any, stages: Mapping[int, Sequence[StageLine]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.stages = stages

    def render_name(self, record: Run) -> str:
        """Link to the run's page."""
        return self.link("run", record.pk, record.name)

    def render_five(self, record: Run) -> SafeString:
        """Draw the five stages."""
        return render_to_string("kits/overview/five.html", {"stages": self.stages[record.pk]})

    def render_next_planned(self, record: Run) -> str | SafeString:
        """Name the first stage that is not done, its day, and what it lacks."""
        line = next_of(self.stages[record.pk])
        if line is None:
            return "all done"
        day = day_month_year(line.row.planned) if line.row.planned else "no date"
        return format_html(
            '{}, <span class="nowrap">{}</span> <span class="{}">{}</span>',
            line.row.stage.capitalize(),
            day,
            "bad-text" if line.lacks else "small",
            short_in_words(line),
        )

    def render_way(self, record: Run) -> str:
        """Name the equipment at both ends."""
        return f"{record.from_equipment} → {record.to_equipment}"

    def render_cables(self, record: Run) -> str:
        """Name the cable and how many conductors there are."""
        phases = record.phases * record.cables_per_phase
        neutrals = f" + {record.neutrals} N" if record.neutrals else ""
        grounds = f" + {record.ground_cables} G" if record.ground_cables else ""
        return f"{phases}{neutrals}{grounds} of {record.cable.code}"
