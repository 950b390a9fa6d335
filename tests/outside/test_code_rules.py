"""What electrical codes print, against what the rules and guards make of it. Every value names its source."""

from fractions import Fraction

import pytest

from takeoff.rules.engine.quantities import take_off
from takeoff.runs.geometry.facts import CableFacts
from takeoff.runs.geometry.warnings import (
    BEND_MULTIPLE,
    BEND_MULTIPLE_SHIELDED,
    least_ground,
    least_radius,
    notices,
    radius_up,
    unequal_set,
)
from takeoff.units.sizes import parse_size
from tests.takeoff.facts import FT, IN, MM, book, default_rows, elbow, exact, row, run, straight

# NFPA 70 (NEC) 2008 370.4(D), 370.30(B) in later editions: individual conductors supported at most 3 ft apart in
# horizontal runs and 1.5 ft in vertical ones; counts by the fence-post form, a block at each end.
BLOCKS = [
    ("horizontal", 40 * FT, 3 * FT, 15),
    ("horizontal", 36 * FT, 3 * FT, 13),  # 36 ft at 3 ft is 12 bays, never 13 of them
    ("vertical", 20 * FT, 18 * IN, 15),
    ("horizontal", 36 * FT + IN // 16, 3 * FT, 14),
]


@pytest.mark.parametrize(("lie", "length", "spacing", "blocks"), BLOCKS)
def test_blocks_of_the_code_come_out_one_more_than_the_bays(lie, length, spacing, blocks):
    rules = book(row("section", "spaced", spacing=spacing, lie=lie))
    assert exact(take_off(run(straight(length, lie=lie)), rules)) == blocks


def test_framework_supports_of_the_code():
    # NFPA 70 Art. 370 (370.30(A)): framework supported at most 12 ft apart; 40 ft with a support at each end takes 5.
    rules = book(row("run", "spaced", spacing=12 * FT))
    assert exact(take_off(run(straight(40 * FT)), rules)) == 5


@pytest.mark.parametrize(
    ("name", "horizontal", "vertical", "framework"),
    # NFPA 70 370.30 as printed: 3 ft (900 mm), 1.5 ft (450 mm); 12 ft (3.7 m).
    [("feet", 36 * IN, 18 * IN, 12 * FT), ("metric", 900 * MM, 450 * MM, 3700 * MM)],
)
def test_default_books_hold_the_spacings_that_the_code_prints(name, horizontal, vertical, framework):
    rows = default_rows(name)
    spacings = {(rule.lie, rule.spacing) for rule in rows if rule.item.startswith("block-")}
    assert spacings == {("horizontal", horizontal), ("vertical", vertical)}
    assert [rule.spacing for rule in rows if rule.item == "support-bracket"] == [framework]


@pytest.mark.parametrize(
    ("size", "kinds"), [("1", ["refused"]), ("1/0", []), ("50 mm2", ["refused"]), ("53.5 mm2", [])]
)
def test_conductors_below_1_0_are_refused(size, kinds):
    # NFPA 70-2008 370.4(C): 1/0 AWG and larger; NFPA 70 prints 1/0 as 53.5 mm².
    found = notices(run(straight(), cable=CableFacts("c", size, "Cu", diameter=10 * MM)))
    assert [guard.kind for guard in found] == kinds


def test_a_site_under_another_code_gets_notes():
    found = notices(run(straight(), cable=CableFacts("c", "1", "Cu", diameter=10 * MM)), code="other")
    assert [guard.kind for guard in found] == ["note"]
    assert "engineer of record decide" in found[0].text


def test_parallel_conductors_of_120_and_121_ft_are_refused():
    # NFPA 70 310.10(H)(1)-(2) (2011-2017), 310.10(G) from 2020: conductors in parallel have the same length.
    guard = unequal_set({"A1": 120 * FT, "A2": 121 * FT}, 6 * IN)
    assert guard is not None
    assert (guard.kind, "310.10" in guard.source) == ("refused", True)
    assert unequal_set({"A1": 120 * FT, "A2": 120 * FT}, 0) is None


# NFPA 70 Table 250.122, read in two reproductions: amperes not exceeding, copper, aluminum.
TABLE = """
200 6 4 | 300 4 2 | 400 3 1 | 500 2 1/0 | 600 1 2/0 | 800 1/0 3/0 | 1000 2/0 4/0 | 1200 3/0 250 | 1600 4/0 350
| 2000 250 400 | 2500 350 600 | 3000 400 600 | 4000 500 750 | 5000 700 1250 | 6000 800 1250 | 225 4 2
"""


@pytest.mark.parametrize(("amps", "copper", "aluminum"), [cell.split() for cell in TABLE.split("|")])
def test_least_ground_cable_is_that_of_table_250_122(amps, copper, aluminum):
    assert (least_ground(int(amps), "Cu"), least_ground(int(amps), "Al")) == (copper, aluminum)


def test_the_table_of_ground_cables_ends_at_6000_a():
    assert least_ground(6001, "Cu") is None
    assert [guard.key for guard in notices(run(straight(), breaker_amps=6001))] == ["ground cable not in table"]


@pytest.mark.parametrize(
    ("size", "material", "amps", "warned"),
    [
        ("250", "Cu", 2000, False),
        ("4/0", "Cu", 2000, True),
        ("400", "Al", 2000, False),
        ("350", "Al", 2000, True),
        ("240 mm2", "Cu", 4000, True),  # IEC 60228 240 mm² is 474 kcmil, below the 500 that 4000 A takes
        ("253 mm2", "Cu", 4000, False),  # 500 kcmil as NFPA 70 Chapter 9 Table 8 prints it in metric
    ],
)
def test_a_ground_cable_below_the_table_is_warned_of(size, material, amps, warned):
    found = notices(run(straight(), ground_cable=CableFacts("g", size, material), breaker_amps=amps))
    assert [(guard.kind, guard.source) for guard in found] == [("warning", "NFPA 70 Table 250.122")] * warned


# NFPA 70 300.34: 8 × diameter nonshielded, 12 × shielded. Diameters of published medium-voltage cables; their tables
# print 12.9, 14.7, 16.6 and 12.2 in, cut to one place. A least radius must go up instead.
@pytest.mark.parametrize(
    ("diameter_in", "shielded", "radius_in", "shown"),
    [
        ("1.230", True, "14.76", "14.8 in"),
        ("0.943", False, "7.544", "7.6 in"),
        ("1.08", True, "12.96", "13.0 in"),
        ("1.387", True, "16.644", "16.7 in"),
        ("1.02", True, "12.24", "12.3 in"),
    ],
)
def test_bending_radius_of_the_code_goes_up(diameter_in, shielded, radius_in, shown):
    cable = CableFacts("c", "4/0", "Cu", shielded=shielded, diameter=int(Fraction(diameter_in) * IN))
    radius = least_radius(cable)
    assert radius == Fraction(radius_in) * IN
    assert radius_up(radius, "ft") == shown
    assert radius / cable.diameter == (BEND_MULTIPLE_SHIELDED if shielded else BEND_MULTIPLE)


@pytest.mark.parametrize(("radius_in", "warned"), [("14.7", True), ("14.76", False), ("24", False)])
def test_an_elbow_tighter_than_its_cable_is_warned_of(radius_in, warned):
    cable = CableFacts("c", "4/0", "Cu", shielded=True, diameter=int(Fraction("1.23") * IN))
    found = notices(run(elbow("left", radius=int(Fraction(radius_in) * IN)), cable=cable))
    assert [guard.key for guard in found] == ["elbow too tight"] * warned
    assert not warned or "14.8 in, 12 × the shielded" in found[0].text


def test_circular_mils_order_sizes_as_the_code_does():
    # NFPA 70 Chapter 9 Table 8: areas in circular mils.
    names = ["6", "4", "3", "2", "1", "1/0", "2/0", "3/0", "4/0", "250", "350", "500", "750", "1000"]
    assert sorted(names, key=parse_size) == names
