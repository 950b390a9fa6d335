"""The table `kit_boxes`; and what a load of events does to days that are past."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from kits.promises.models import KitBox
from kits.stock.bin_duties import passed_on
from kits.stock.models import Balance
from kits.stock.past_days import below_zero_since, latest_moves
from kits.stock.places import DEFAULT_BIN, Places
from takeoff.database.folding import folded
from takeoff.sheets.cells.columns import Column
from takeoff.sheets.cells.kinds import Reference, Text
from takeoff.sheets.context import LoadContext
from takeoff.sheets.matching import match
from takeoff.sheets.registry import register, register_follower
from takeoff.sheets.saving import save_matched
from takeoff.sheets.table_kinds import DescriptionTable, Row
from takeoff.sites.models import Place


class KitBoxesTable(DescriptionTable):
    """Which bins serve a kit."""

    name = "kit_boxes"
    order = 125
    help = "Bins that serve a kit: what lies there is for the kit's run. A kit may have several, such as its crates."
    columns = (
        Column("bin", Text(120), "The bin; made when it is new.", required=True, example="Crate 7"),
        Column("kit", Reference(to="kit"), "The kit that it serves.", default_help="none: it serves every run"),
    )
    key = ("bin",)

    def save(self, context: LoadContext, rows: Sequence[Row]) -> None:
        """Let bins serve kits, or every run again."""
        places = Places(context.site)
        rows = [row for row in _bins_only(context, rows, places) if row.gives("kit")]
        places.make(bins=[row["bin"] for row in rows if row["kit"]])
        _ask_about_stock(context, rows, places)
        boxes = KitBox.objects.of(context.site).select_related("place", "kit")
        existing = {box.place.folded: box for box in boxes.filter(place__kind=Place.Kind.BIN)}
        matched = match(
            context,
            [row for row in rows if row["kit"]],
            model=KitBox,
            existing=existing,
            key=lambda row: folded(row["bin"]),
            values=lambda row: {"kit_id": row["kit"].pk},
            columns={"kit_id": "kit"},
            identity=lambda row: {"place": places.bin(row["bin"])},
        )
        for row in rows:
            if row["kit"] is None:
                box = existing.get(folded(row["bin"]))
                matched.removed += [box] if box else []
                context.count(self.name, "removed" if box else "unchanged", row["bin"])
        save_matched(context, matched)


def _bins_only(context: LoadContext, rows: Sequence[Row], places: Places) -> list[Row]:
    """Return the rows that name a bin, each once: no kit's own box, nothing on hold, not the store."""
    found: dict[str, Row] = {}
    for row in rows:
        key, place = folded(row["bin"]), places.named(row["bin"])
        if key == folded(DEFAULT_BIN) or places.is_special(key) or (place and place.kind != Place.Kind.BIN):
            context.problem(row, "bin", expected=f"a bin: not {DEFAULT_BIN}, the name of a kit, or what is on hold")
        elif key in found:
            context.problem(row, "bin", expected=f"a bin once: row {found[key].number} names it, too")
        else:
            found[key] = row
    return list(found.values())


def _ask_about_stock(context: LoadContext, rows: Sequence[Row], places: Places) -> None:
    """Ask about bins in which something lies that was for others until now."""
    full = set(Balance.objects.of(context.site).exclude(quantity=0).values_list("place", flat=True))
    for row in rows:
        place = places.named(row["bin"])
        if place is None or place.pk not in full:
            continue
        text = passed_on(before=places.owner(place), after=row["kit"] and row["kit"].run)
        if text:
            context.caution(row, "bin", text)


def look_at_past_days(context: LoadContext) -> None:
    """
    Say where something that is told late makes a past day impossible: a bin held less than nothing at its end.

    What happened is kept all the same; somebody looks for the record that is still missing, or wrong.
    """
    first: dict[int, Row] = {}
    for row in context.event_rows:
        item = row.values.get("item")
        if item is not None and (item.pk not in first or row["at"] < first[item.pk]["at"]):
            first[item.pk] = row
    earliest = min((row["at"] for row in first.values()), default=context.now)
    latest = latest_moves(context.site, first, earliest, context.now) if first else {}
    late: dict[int, datetime] = {pk: row["at"] for pk, row in first.items() if pk in latest and row["at"] < latest[pk]}
    for each in below_zero_since(context.site, late) if late else ():
        text = f"the books of past days cannot be so, a record is missing or wrong: {each}"
        context.caution(first[each.item.pk], "at", text)


register(KitBoxesTable())
register_follower(
    tables={
        *("receipts", "issues", "returns", "counts", "transfers", "scraps", "send_backs"),
        *("sends", "takings_in", "reversals"),
    },
    follow=look_at_past_days,
    after_events=True,
)
