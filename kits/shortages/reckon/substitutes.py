"""
What stands in for an item: a substitute covers need by its contents, not one for one.

An item that no rule asks for, and that another one accepts in its place, is counted in that one's books by what its
contents are worth; its own line stays as it is and needs nothing.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import replace
from fractions import Fraction
from math import floor, trunc
from typing import Any

from kits.receiving.counting.came_instead import Goods, Verdict, judge
from kits.shortages.reckon.item import ItemBooks, OrderedLine, PackedLine, StageBook
from kits.shortages.reckon.lines import Substitute
from kits.shortages.reckon.projection import LotStock

StandIns = dict[int, list[tuple[int, Fraction]]]


def stand_ins(goods: Mapping[int, Goods], wanted: Iterable[int], spare: Iterable[int]) -> StandIns:
    """
    Return for each wanted item what stands in for it: pairs of item and how many units of the wanted one each covers.

    wanted : items that rules ask for. spare : items that no rule asks for. What several items accept stands in for the
    first of them by code. A grade alone is accepted only where the contents of both are known.
    """
    found: StandIns = defaultdict(list)
    asking = sorted((goods[key].code, key) for key in wanted if goods[key].accept)
    for key in spare if asking else ():
        for _, wanting in asking:
            each = _each(goods[wanting], goods[key])
            if each is not None:
                found[wanting].append((key, each))
                break
    return dict(found)


def absorb(books: ItemBooks, other: ItemBooks, each: Fraction, as_of_usable: int) -> ItemBooks:
    """
    Return an item's books with those of a substitute in them.

    each : units of the item that one unit of the substitute covers. as_of_usable : what is usable of the substitute
    [ticks of its unit]. Every quantity is cut to whole ticks; what was counted in is what they add up to, so that
    nothing is made or lost on the way. What the cutting loses is taken off what was listed, ordered or promised, so
    that neither carrier nor supplier is blamed for it.
    """

    def worth(quantity: int) -> int:
        return floor(quantity * each)

    stages = {(stage.run_id, stage.stage): stage for stage in books.stages}
    issued = 0
    for stage in other.stages:
        key = (stage.run_id, stage.stage)
        known = stages.get(key) or StageBook(stage.run_id, stage.run, stage.stage, stage.planned, stage.done)
        counts, in_box = known.counts | stage.counts, known.in_box or stage.in_box
        stages[key] = replace(known, issued=known.issued + worth(stage.issued), counts=counts, in_box=in_box)
        issued += worth(stage.issued)
    lots = tuple(LotStock(worth(lot.quantity), lot.expires) for lot in other.lots)
    packing = [replace(line, listed=worth(line.listed), counted=worth(line.counted)) for line in other.packing]
    orders = [replace(line, quantity=worth(line.quantity), shipped=worth(line.shipped)) for line in other.orders]
    drafts = [(name, worth(quantity)) for name, quantity in other.drafts]
    away = [worth(quantity) for quantity in (other.rejected, other.scrapped, other.lost, other.elsewhere)]
    counted, promised = issued + sum(lot.quantity for lot in lots) + sum(away), worth(other.promised)
    if packing:
        missing = _missing(other.packing, other.counted)
        _take_off_largest(packing, _missing(packing, counted) - trunc(missing * each), "listed", "counted")
    crumb = _owed(promised, orders, packing) - trunc(_owed(other.promised, other.orders, other.packing) * each)
    if orders:
        _take_off_largest(orders, crumb, "quantity", "shipped")
    elif promised:
        promised -= crumb
    return replace(
        books,
        stages=tuple(stages.values()),
        lots=(*books.lots, *lots),
        packing=(*books.packing, *packing),
        orders=(*books.orders, *orders),
        drafts=(*books.drafts, *drafts),
        promised=books.promised + promised,
        counted=books.counted + counted,
        rejected=books.rejected + away[0],
        scrapped=books.scrapped + away[1],
        lost=books.lost + away[2],
        elsewhere=books.elsewhere + away[3],
        substitutes=(
            *books.substitutes,
            Substitute(
                other.item.code, other.item.description, other.item.unit, as_of_usable, worth(as_of_usable), each
            ),
        ),
    )


def _missing(packing: Iterable[PackedLine], counted: int) -> int:
    """Return what was listed and neither counted nor still to be counted."""
    return sum(line.listed - line.uncounted for line in packing) - counted


def _owed(promised: int, orders: Iterable[OrderedLine], packing: Iterable[PackedLine]) -> int:
    """Return what was promised or ordered and neither shipped nor still on order."""
    return promised + sum(line.ordered - line.on_order for line in orders) - sum(line.listed for line in packing)


def _take_off_largest(lines: list[Any], crumb: int, whole: str, of_it: str) -> None:
    """Take a crumb off the largest line: off `whole` and `of_it` alike, so that their difference stays."""
    place = max(range(len(lines)), key=lambda number: getattr(lines[number], whole))
    line = lines[place]
    lines[place] = replace(line, **{name: getattr(line, name) - crumb for name in (whole, of_it)})


def _each(wanted: Goods, other: Goods) -> Fraction | None:
    judgement = judge(wanted, other)
    if judgement.verdict is not Verdict.SUBSTITUTE:
        return None
    named = judge(wanted, replace(other, grade="")).verdict is Verdict.SUBSTITUTE
    return judgement.each if named or (wanted.contents and other.contents) else None
