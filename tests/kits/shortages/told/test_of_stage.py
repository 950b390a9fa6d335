"""What is said of a stage's material, and of a run in one verdict."""

from datetime import date

import pytest

from kits.shortages.reckon.arrivals import stage_lines
from kits.shortages.reckon.lines import Delivery, Missing, StageReadiness
from kits.shortages.told.of_stage import MATERIAL_ONLY, needs_a_permit, short_in_words, state_in_words, verdict_in_words
from tests.kits.shortages.reckon.test_arrivals import DAY, line, lug, stage

FOOT = 3_048_000


def length(name, feet=84, waits_for=""):
    return Missing("C500", name, "mm", feet * FOOT, waits_for=waits_for)


@pytest.mark.parametrize(
    ("row", "told"),
    [
        (stage("cables", "done"), "done"),
        (stage("cables"), "all here"),
        (stage("cables", unmeasured=True), "all here, not measured yet"),
        (stage("seals", "blocked by", blocked_by=("enclosure", "cables")), "waits for enclosure, cables"),
        (stage("enclosure", "blocked by", blocked_by=("no takeoff",)), "waits for a takeoff"),
        (stage("covers", "blocked by", blocked_by=("cables",), idle=True), "nothing needed"),
        (
            stage("cables", "ready but for", missing=(length("A1"), length("B1"), lug(1))),
            "here but for 2 lengths and 1 item",
        ),
    ],
)
def test_a_stage_says_what_of_it_is_here(row, told):
    assert state_in_words(row) == told


def test_a_verdict_names_the_first_thing_that_is_missing_and_when_it_comes():
    rows = (
        stage("enclosure", "done"),
        stage("cables"),
        stage("seals", "blocked by", blocked_by=("cables",)),
        stage("terminations", "blocked by", date(2026, 12, 13), blocked_by=("cables",), missing=(lug(9),)),
        stage("covers", "blocked by", blocked_by=("cables",), idle=True),
    )
    told = verdict_in_words(stage_lines(rows, [line(Delivery("shipment", "S", 90_000, date(2026, 12, 18)))]), "ft")

    assert told == ("Cables and seals: all here.", "Terminations on 13 Dec lack 9 Lug; they come 18 Dec.")


def test_cable_that_no_reel_gives_comes_before_anything_else():
    rows = (
        stage("enclosure", "ready but for", missing=(lug(1),)),
        stage("cables", "ready but for", missing=(length("A1"), length("B1", 90), length("C1", waits_for="R-7"))),
    )
    assert verdict_in_words(stage_lines(rows, []), "ft") == (
        "No reel gives 2 lengths of cable, up to 90' 0\": A1, B1.",
        "1 length of cable waits for R-7, on the way: C1.",
        "Enclosure lacks 1 Lug; not on the way.",
    )


def test_the_rest_of_a_verdict():
    assert verdict_in_words(stage_lines([stage("cables", "done")], []), "ft") == ("Every stage is done.",)
    unknown = stage("cables", "blocked by", blocked_by=("no takeoff",))
    assert verdict_in_words(stage_lines([unknown], []), "ft") == ("No takeoff yet: nobody knows what it needs.",)
    assert verdict_in_words(stage_lines([stage("cables", unmeasured=True)], []), "ft") == (
        "Cables: all here, not measured yet.",
    )


@pytest.mark.parametrize(
    ("deliveries", "told"),
    [
        ((), "Terminations lack 9 Lug; not on the way."),
        ((Delivery("order", "PO", 90_000, None),), "Terminations lack 9 Lug; they come without a day."),
        ((Delivery("order", "PO", 90_000, DAY, late=True),), "Terminations lack 9 Lug; they were due 4 May."),
        ((Delivery("order", "PO", 80_000, DAY),), "Terminations lack 9 Lug; not on the way."),
    ],
    ids=["nothing ordered", "no day", "overdue", "too few"],
)
def test_when_it_comes_is_only_said_where_it_is_known(deliveries, told):
    row = stage("terminations", "ready but for", missing=(lug(9),))
    assert verdict_in_words(stage_lines([row], [line(*deliveries)]), "ft") == (told,)


def test_several_items_are_counted_with_the_last_day():
    two = Missing("NUT", "Nut", "each", 20_000)
    row = stage("covers", "ready but for", missing=(lug(1), two))
    lugs, nuts = Delivery("order", "PO", 90_000, DAY), Delivery("order", "PO", 90_000, date(2026, 5, 9))
    (told,) = stage_lines([row], [line(lugs), line(nuts, code="NUT")])
    assert short_in_words(told) == "lack 2 items; the last comes 9 May"
    (told,) = stage_lines([row], [line(lugs)])
    assert short_in_words(told) == "lack 2 items; 1 of them not on the way"
    overdue = Delivery("order", "P", 90_000, DAY, late=True)
    (told,) = stage_lines([row], [line(overdue), line(nuts, code="NUT")])
    assert short_in_words(told) == "lack 2 items; 1 of them overdue"
    (told,) = stage_lines([row], [line(lugs), line(Delivery("order", "P", 90_000, None), code="NUT")])
    assert short_in_words(told) == "lack 2 items; some without a day"


def test_where_something_may_be_live_it_is_said_that_only_material_is_meant():
    assert MATERIAL_ONLY == "Material only. Permit, isolation and proof of dead are the site's."
    assert needs_a_permit([stage("seals")])
    assert needs_a_permit([stage("terminations", "blocked by")])
    assert not needs_a_permit([stage("terminations", "done"), stage("covers")])


def test_a_stage_is_known_by_its_state():
    assert StageReadiness(1, "R", "seals", None, "done").done


def test_what_the_next_stage_lacks_is_said_in_a_line():
    rows = (
        stage("enclosure", "blocked by", blocked_by=("no takeoff",)),
        stage("cables", "ready but for", missing=(length("A1"), length("B1"), lug(2))),
    )
    assert [short_in_words(told) for told in stage_lines(rows, [])] == [
        "no takeoff yet",
        "2 lengths find no reel here; lack 2 Lug; not on the way",
    ]
