"""The table `reels`."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from decimal import Decimal
from typing import Any

from reels.ledger.marks.family import in_a_circle
from reels.ledger.models import Reel
from reels.ledger.services import save_reels
from takeoff.database.folding import folded
from takeoff.database.locks import lock
from takeoff.sheets.cells.columns import Column, InMetres
from takeoff.sheets.cells.kinds import Choice, Number, Reference, Text, one_of
from takeoff.sheets.cells.measured import Length, Weight
from takeoff.sheets.context import LoadContext
from takeoff.sheets.matching import match
from takeoff.sheets.registry import by_name, register, register_lock, register_reference
from takeoff.sheets.table_kinds import DescriptionTable, Row
from takeoff.sites.models import Site
from takeoff.sites.services import make_bins

# Columns whose field has another name.
FIELDS = {
    "delivery": "shipment",
    "place_id": "bin",
    "parent_id": "parent",
    "cable_id": "cable",
    "weight_unit": "gross",
}


class ReelsTable(DescriptionTable):
    """Reels as they came."""

    name = "reels"
    order = 150
    help = "Reels of cable: how much came on each and between which printed marks. Marks may climb or fall."
    columns = (
        Column("reel", Text(60), "The reel's tag.", required=True, example="R-101"),
        Column("cable", Reference(to="cable"), "The cable on it.", required=True),
        Column(
            "length",
            Length(above_zero=True),
            "Length as received.",
            required=True,
            example="1000 ft",
            metric=InMetres(example="300 m"),
        ),
        Column("outer_mark", Number(), "Printed mark at the outer end.", default_help="no marks", example="3740"),
        Column("inner_mark", Number(), "Printed mark at the core.", default_help="no marks", example="2740"),
        Column("mark_unit", Choice(("ft", "m")), "What the marks count.", default_help="the site's unit"),
        Column("shipment", Text(60), "The shipment that brings or brought it.", default="", default_help="none"),
        Column("bin", Text(120), "Where it lies; made when it is new.", default="", default_help="nowhere said"),
        Column("tare", Weight(), "Weight of the bare reel.", default_help="not known"),
        Column("gross", Weight(), "Weight as received.", default_help="not known"),
        Column("flange", Length(needs_unit=True, above_zero=True), "Flange diameter.", default_help="not known"),
        Column("drum", Length(needs_unit=True, above_zero=True), "Barrel diameter.", default_help="not known"),
        Column("traverse", Length(needs_unit=True, above_zero=True), "Inside width.", default_help="not known"),
        Column("parent", Text(60), "The reel that a remnant or piece came off.", default="", default_help="none"),
        Column("state", Choice(tuple(Reel.State.values)), "Where it stands.", default=Reel.State.ON_SITE.value),
    )
    key = ("reel",)
    names = {"reel": "reel"}

    def save(self, context: LoadContext, rows: Sequence[Row]) -> None:
        """Create and change reels; a reel whose cuts would no longer lie on it is refused."""
        site = context.site
        known: dict[Hashable, Reel] = dict(context.lookup("reel").items())
        good = [row for row in rows if _sound(context, row, known, rows)]
        bins = make_bins(site=site, names=[row["bin"] for row in good if row["bin"]])
        matched = match(
            context,
            good,
            model=Reel,
            existing=known,
            key=lambda row: row["reel"],
            values=lambda row: {
                "cable_id": row["cable"].pk,
                "length": row["length"],
                "outer_mark": row["outer_mark"],
                "inner_mark": row["inner_mark"],
                "mark_unit": row["mark_unit"] or site.unit,
                "delivery": row["shipment"],
                "place_id": bins[folded(row["bin"])].pk if row["bin"] else None,
                "tare": row["tare"].value if row["tare"] else None,
                "gross": row["gross"].value if row["gross"] else None,
                "weight_unit": _weight_unit(row, site),
                "flange": row["flange"],
                "drum": row["drum"],
                "traverse": row["traverse"],
                "state": row["state"],
            },
            columns=FIELDS,
            identity=lambda row: {"site": site, "tag": row["reel"]},
        )
        wrong = save_reels(site=site, new=matched.new, changed=matched.changed, fields=matched.fields)
        reels = {reel.tag: reel for _, reel in matched.pairs if reel.tag not in wrong}
        for row, reel in matched.pairs:
            if reel.tag in wrong:
                context.problem(row, wrong[reel.tag].column, expected=f"marks that its cuts lie on: {wrong[reel.tag]}")
        for tag, reel in reels.items():
            context.remember("reel", tag, reel)
        _set_parents(context, matched.pairs, wrong)


def _sound(context: LoadContext, row: Row, known: Mapping[Hashable, Reel], rows: Sequence[Row]) -> bool:
    """Return whether a row's cells go together; each that does not is a problem."""
    before = len(context.problems)
    outer, inner = row["outer_mark"], row["inner_mark"]
    if (outer is None) != (inner is None):
        missing = "outer_mark" if outer is None else "inner_mark"
        context.problem(row, missing, expected="both marks, or neither")
    elif outer is not None and outer == inner:
        context.problem(row, "inner_mark", expected="another mark than the outer one")
    if row["tare"] and row["gross"] and row["tare"].unit != row["gross"].unit:
        context.problem(row, "tare", expected=f"a weight in {row['gross'].unit}, as the gross weight is")
    elif row["tare"] and row["gross"] and row["tare"].value > row["gross"].value:
        context.problem(row, "tare", expected="a tare that is not above the gross weight")
    if row["drum"] and row["flange"] and row["drum"] >= row["flange"]:
        context.problem(row, "drum", expected="a drum that is smaller than the flange")
    if row["parent"] and row["parent"] not in known and all(other["reel"] != row["parent"] for other in rows):
        context.problem(row, "parent", expected=f"the tag of a reel: {one_of(map(str, known), row['parent'])}")
    if row["parent"] == row["reel"]:
        context.problem(row, "parent", expected="another reel")
    sound = len(context.problems) == before
    if sound and outer is not None and not _as_long(row, context.site.unit):
        context.caution(row, "length", "it differs from the printed marks by more than 5 percent")
    return sound


def _as_long(row: Row, site_unit: str) -> bool:
    per_mark = Decimal("304.8") if (row["mark_unit"] or site_unit) == "ft" else Decimal(1000)
    by_marks = abs(row["outer_mark"] - row["inner_mark"]) * per_mark
    return bool(abs(by_marks - row["length"]) <= row["length"] * Decimal("0.05"))


def _weight_unit(row: Row, site: Site) -> str:
    weight = row["gross"] or row["tare"]
    return str(weight.unit) if weight else {"ft": "lb", "m": "kg"}[site.unit]


def _set_parents(context: LoadContext, pairs: Sequence[tuple[Row, Reel]], wrong: Mapping[str, Any]) -> None:
    """Tie remnants to the reels that they came off, once all reels of the sheet are there; no circle of them."""
    reels = context.lookup("reel")
    tags = {reel.pk: reel.tag for reel in reels.values()}
    off = {reel.tag: tags.get(reel.parent_id, "") for reel in reels.values()}
    said = {reel.tag: row["parent"] for row, reel in pairs if row.gives("parent")}
    circle = in_a_circle(off | said)
    tied = []
    for row, reel in pairs:
        if said.get(reel.tag) and reel.tag in circle:
            context.problem(row, "parent", expected=f"a reel that did not come off {reel} itself")
            continue
        parent = reels.get(row["parent"]) if row["parent"] else None
        if reel.tag not in wrong and row.gives("parent") and reel.parent_id != (parent.pk if parent else None):
            reel.parent = parent
            tied.append(reel)
    if tied:
        save_reels(site=context.site, new=[], changed=tied, fields={"parent"})


register_lock("reel", lambda site, tags: lock(Reel.objects.of(site).filter(tag__in=tags).only("pk")))
register(ReelsTable())
register_reference("reel", by_name(lambda site: Reel.objects.of(site).select_related("cable"), "tag"))
