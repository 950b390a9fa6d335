"""Prices over time as steps to one scale."""

from datetime import date
from itertools import pairwise

import pytest

from kits.offers.choice.best_offer import Quote
from kits.offers.choice.price_steps import APART, BOTTOM, LEFT, RIGHT, TOP, draw_prices

TODAY = date(2026, 5, 11)


def said(day, price, supplier="S", part="", start=0, until=None):
    return Quote(day, supplier, part, date(2026, 5, day), price, start * 10_000, valid_until=until)


def test_a_price_stands_until_the_next_and_the_last_until_today():
    chart = draw_prices([said(1, 100), said(6, 200)], TODAY)
    assert chart is not None
    (line,) = chart.lines
    middle = (LEFT + RIGHT) / 2
    assert [(step.x1, step.x2) for step in line.steps] == [(LEFT, middle), (middle, RIGHT)]
    assert [step.y for step in line.steps] == [BOTTOM, TOP]
    assert [step.y0 for step in line.steps] == [None, line.steps[0].y]
    assert (chart.top, chart.low) == (200, 100)


def test_prices_between_the_highest_and_the_lowest_stand_to_scale():
    chart = draw_prices([said(1, 100), said(2, 125), said(6, 200)], TODAY)
    assert chart is not None
    assert chart.lines[0].steps[1].y == pytest.approx(BOTTOM - (BOTTOM - TOP) / 4)


def test_numbers_of_lines_that_end_at_one_height_stand_apart():
    chart = draw_prices([said(1, 100, "A"), said(1, 100, "B"), said(1, 101, "C"), said(1, 200, "D")], TODAY)
    assert chart is not None
    heights = sorted(line.number_y for line in chart.lines)
    assert all(after - before >= APART for before, after in pairwise(heights))
    assert heights[0] == TOP


def test_an_offer_that_ran_out_leaves_a_gap():
    chart = draw_prices([said(1, 100, until=date(2026, 5, 2)), said(6, 200)], TODAY)
    assert chart is not None
    first, second = chart.lines[0].steps
    assert first.x2 == pytest.approx(LEFT + 2 / 10 * (RIGHT - LEFT))  # through its last day
    assert second.y0 is None


def test_of_one_offer_the_price_from_the_least_quantity_is_drawn():
    chart = draw_prices([said(1, 80, start=100), said(1, 100, start=1), said(1, 90, start=50)], TODAY)
    assert chart is not None
    assert [step.price for step in chart.lines[0].steps] == [100]


def test_each_suppliers_part_has_a_line_and_what_is_to_come_none():
    chart = draw_prices([said(1, 5, "B"), said(2, 5, "A", "P2"), said(2, 5, "A", "P1"), said(12, 5, "C")], TODAY)
    assert chart is not None
    assert [(line.number, line.supplier, line.part) for line in chart.lines] == [
        (1, "A", "P1"),
        (2, "A", "P2"),
        (3, "B", ""),
    ]
    assert draw_prices([said(12, 5)], TODAY) is None


def test_an_offer_of_today_alone_is_drawn_within_the_drawing():
    chart = draw_prices([said(11, 0)], TODAY)
    assert chart is not None
    assert LEFT <= chart.lines[0].last.x2 <= RIGHT
    assert (chart.lines[0].last.y, chart.low) == (TOP, None)
