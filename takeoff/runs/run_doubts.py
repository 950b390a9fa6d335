"""What a load is asked about whole runs: ends not told, numbers left out, seals without size, drawing lengths."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from decimal import Decimal
from typing import TypeVar

from django.db.models import F, Model

from takeoff.runs.models import Run, RunEnd, Section
from takeoff.sheets.cells.columns import Column
from takeoff.sheets.cells.kinds import YesNo
from takeoff.sheets.context import LoadContext
from takeoff.sheets.table_kinds import Row
from takeoff.units.exact import to_ticks
from takeoff.units.shown import exactly

K = TypeVar("K", bound=Hashable)
SHOWN = 8  # names that a message lists

GONE = Column("gone", YesNo(), "yes: taken away. What the books have and no row names is refused.", default=False)


def without_gone(
    context: LoadContext, rows: Sequence[Row], *, key: Callable[[Row], K], existing: Mapping[K, Model], column: str
) -> list[Row]:
    """
    Return the rows that stay. What a run has and no row names is refused: it is taken away by a row that says so.

    existing : the parts that the runs of the rows have, by what `key` gives for a row. column : the one that is wrong.
    """
    named = {key(row) for row in rows}
    first = {str(row["run"]): row for row in reversed(rows)}
    missing: dict[str, list[str]] = {}
    for record_key, record in existing.items():
        if record_key not in named:
            run = record.run  # type: ignore[attr-defined]  # every part has one
            missing.setdefault(str(run), []).append(str(record).removeprefix(f"{run} "))
    for run_name, names in missing.items():
        row = first[run_name]
        context.problem(
            row,
            column,
            found=f"no row for {some(names)}",
            expected=f"every one of {row.table.name} that {run_name} has; one that is taken away has gone = yes",
        )
    return [row for row in rows if not row["gone"]]


def look_at_seal(context: LoadContext, row: Row, width: str, height: str) -> None:
    """Ask about a seal of which nobody said how large it is: no plate, block or bead can be counted."""
    lacking = [column for column in (width, height) if row[column] is None]
    if row["seal"] != RunEnd.Seal.NONE and lacking:
        text = f"a {row['seal']} seal without {' and '.join(lacking)}: what goes by its size is not counted"
        context.caution(row, lacking[0], text, found="nothing")


def look_at_runs(context: LoadContext) -> None:
    """Ask about each run that this load describes, once everything of it is in."""
    first: dict[int, Row] = {}
    for table in ("sections", "ends", "runs"):
        for row in reversed(context.rows.get(table, ())):
            run = context.lookup("run")[row["run"]] if table == "runs" else row["run"]
            first[run.pk] = row
    if first:
        _ends(context, first)
        _sections(context, first)
    if context.rows.get("runs") or context.rows.get("cables"):
        _classes(context, first)


def _ends(context: LoadContext, first: Mapping[int, Row]) -> None:
    told: dict[int, set[str]] = {run: set() for run in first}
    for run, end in RunEnd.objects.of(context.site).filter(run__in=first).values_list("run_id", "end"):
        told[run].add(end)
    for run, row in first.items():
        lacking = [end for end in RunEnd.End.values if end not in told[run]]
        if lacking:
            which = " and ".join(f"the {end} end" for end in lacking)
            verb = "is" if len(lacking) == 1 else "are"
            context.caution(row, "run", f"{which} {verb} not told: no cut length until then", about=row.key[0])


def _sections(context: LoadContext, first: Mapping[int, Row]) -> None:
    runs = {run.pk: run for run in context.lookup("run").values() if run.pk in first}
    lines: dict[int, Decimal] = {}
    places: dict[int, list[int]] = {}
    rows = Section.objects.of(context.site).filter(run__in=first).order_by("run_id", "seq")
    for run, seq, length in rows.values_list("run_id", "seq", "length"):
        lines[run] = lines.get(run, Decimal(0)) + length
        places.setdefault(run, []).append(seq)
    in_sheet = {row["run"].pk: row for row in reversed(context.rows.get("sections", ()))}
    for run, row in first.items():
        stated = runs[run].drawing_length
        if run in lines and stated is not None and stated != lines[run]:
            drawn, added = (exactly(to_ticks(length), context.site.unit) for length in (stated, lines[run]))
            text = f"the drawing states {drawn}, the sections add up to {added}"
            column = "drawing_length" if row.table.name == "runs" else "run"
            context.caution(row, column, text, found=runs[run].name, about=runs[run].name)
        gaps = left_out(places.get(run, ())) if run in in_sheet else []
        if gaps:
            text = f"{some(map(str, gaps))} {'is' if len(gaps) == 1 else 'are'} left out: is a section missing?"
            context.caution(in_sheet[run], "seq", text, found=runs[run].name, about=runs[run].name)


def left_out(places: Sequence[int]) -> list[int]:
    """
    Return the numbers that a run of ascending numbers leaves out; counting in equal steps (10, 20, 30) leaves none.

    >>> left_out([1, 2, 4]), left_out([10, 20, 40]), left_out([2, 3])
    ([3], [30], [1])
    """
    steps = [after - before for before, after in zip((0, *places), places, strict=False)]
    step = min(steps, default=1)
    if not steps or any(each % step for each in steps):
        step = 1
    wanted = range(step, max(places, default=0) + 1, step)
    return sorted(set(wanted) - set(places))


def _classes(context: LoadContext, first: Mapping[int, Row]) -> None:
    """Refuse a run whose cable is of another voltage class, whichever of the two sheets says so."""
    other = Run.objects.of(context.site).exclude(voltage_class=F("cable__voltage_class")).select_related("cable")
    of_cables = {row["item"]: row for row in context.rows.get("cables", ())}
    for run in other.order_by("name"):
        row = first.get(run.pk) if "runs" in context.rows else None
        if row is not None and row.table.name == "runs":
            continue  # refused where the run's own row was read
        if run.cable.code in of_cables:
            context.problem(
                of_cables[run.cable.code],
                "voltage_class",
                found=run.cable.voltage_class,
                expected=f"{run.voltage_class}, as the run {run.name} that is made of it",
            )


def some(names: Iterable[str]) -> str:
    """Return names in a row, only the first few of many."""
    listed = list(names)
    shown = ", ".join(listed[:SHOWN])
    return shown if len(listed) <= SHOWN else f"{shown} and {len(listed) - SHOWN} more"
