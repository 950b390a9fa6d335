"""Which delivery brings the last of what a stage has not got."""

from dataclasses import replace
from datetime import date

from kits.shortages.reckon.arrivals import stage_lines
from kits.shortages.reckon.item import ItemBooks, Terms, reckon
from kits.shortages.reckon.lines import Delivery, Missing, ShortItem, StageReadiness

DAY = date(2026, 5, 4)


def lug(quantity):
    return Missing("LUG", "Lug", "each", quantity * 10_000)


def stage(name="cables", state="ready", planned=None, *, run="CB-1", **more):
    return StageReadiness(run_id=1, run=run, stage=name, planned=planned, state=state, **more)


def line(*deliveries, code="LUG"):
    return replace(reckon(ItemBooks(item=ShortItem(id=1, code=code)), Terms(as_of=DAY)), deliveries=deliveries)


def shipment(name, quantity, on):
    return Delivery("shipment", name, quantity * 10_000, on)


def came_for(rows, *deliveries):
    return [[lack.comes and lack.comes.name for lack in told.lacks] for told in stage_lines(rows, [line(*deliveries)])]


def test_what_comes_goes_to_the_work_that_is_planned_first():
    rows = [
        stage(planned=None, run="A", missing=(lug(2),)),
        stage(planned=date(2026, 6, 1), run="B", missing=(lug(3),)),
        stage(planned=date(2026, 5, 20), run="C", missing=(lug(4),)),
    ]
    first, second = shipment("S-1", 5, date(2026, 5, 10)), shipment("S-2", 2, date(2026, 5, 12))
    assert came_for(rows, second, first) == [[None], ["S-2"], ["S-1"]]
    assert came_for(rows, second, first, shipment("S-3", 2, None)) == [["S-3"], ["S-2"], ["S-1"]]


def test_a_length_of_cable_comes_on_no_delivery():
    rows = [stage(missing=(Missing("LUG", "A1", "mm", 10_000),))]
    assert came_for(rows, shipment("S-1", 5, DAY)) == [[None]]


def test_only_a_length_is_cable():
    rows = [stage(missing=(Missing("C500", "A1", "mm", 10_000), lug(2)))]
    ((told,),) = [stage_lines(rows, [line()])]
    assert [lack.is_cable for lack in told.lacks] == [True, False]
