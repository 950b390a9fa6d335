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
from math import floor

from kits.receiving.counting.came_instead import Goods, Verdict, judge
from kits.shortages.reckon.item import ItemBooks, StageBook
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
    nothing is made or lost on the way.
    """

    def worth(quantity: int) -> int:
        return floor(quantity * each)

    stages = {(stage.run_id, stage.stage): stage for stage in books.stages}
    issued = 0
    for stage in other.stages:
        key = (stage.run_id, stage.stage)
        known = stages.get(key) or StageBook(stage.run_id, stage.run, stage.stage, stage.planned, stage.done)
        stages[key] = replace(known, issued=known.issued + worth(stage.issued))
        issued += worth(stage.issued)
    lots = tuple(LotStock(worth(lot.quantity), lot.expires) for lot in other.lots)
    packing = [replace(line, listed=worth(line.listed), counted=worth(line.counted)) for line in other.packing]
    orders = [replace(line, quantity=worth(line.quantity), shipped=worth(line.shipped)) for line in other.orders]
    drafts = [(name, worth(quantity)) for name, quantity in other.drafts]
    away = [worth(quantity) for quantity in (other.rejected, other.scrapped, other.lost, other.elsewhere)]
    return replace(
        books,
        stages=tuple(stages.values()),
        lots=(*books.lots, *lots),
        packing=(*books.packing, *packing),
        orders=(*books.orders, *orders),
        drafts=(*books.drafts, *drafts),
        promised=books.promised + worth(other.promised),
        counted=books.counted + issued + sum(lot.quantity for lot in lots) + sum(away),
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


def _each(wanted: Goods, other: Goods) -> Fraction | None:
    judgement = judge(wanted, other)
    if judgement.verdict is not Verdict.SUBSTITUTE:
        return None
    named = judge(wanted, replace(other, grade="")).verdict is Verdict.SUBSTITUTE
    return judgement.each if named or (wanted.contents and other.contents) else None
