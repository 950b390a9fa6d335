"""What electrical codes print, against what the rules and guards make of it. Every value names its source."""

from fractions import Fraction
from math import floor

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
from tests.outside.values import value, values
from tests.takeoff.facts import FT, IN, MM, book, default_rows, elbow, exact, row, run, straight


@pytest.mark.parametrize("outside", values("CODE-01", "CODE-04"), ids=lambda outside: outside.id)
def test_blocks_of_the_code_come_out_one_more_than_the_bays(outside):
    length, spacing, lie = int(outside["length_ft"] * FT), int(outside["max_spacing_ft"] * FT), outside.words["run"]
    rules = book(row("section", "spaced", spacing=spacing, lie=lie))
    assert exact(take_off(run(straight(length, lie=lie)), rules)) == outside.figure


def test_framework_supports_of_the_code():
    outside = value("CODE-05")
    rules = book(row("run", "spaced", spacing=int(outside["max_spacing_ft"]) * FT))
    assert exact(take_off(run(straight(int(outside["length_ft"]) * FT)), rules)) == outside.figure


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
    ("size", "kinds"),
    # NFPA 70 prints 1/0 as 53.5 mm².
    [
        (value("CODE-07").words["size"], ["refused"]),
        (value("CODE-07").expected, []),
        ("50 mm2", ["refused"]),
        ("53.5 mm2", []),
    ],
)
def test_conductors_below_1_0_are_refused(size, kinds):
    found = notices(run(straight(), cable=CableFacts("c", size, "Cu", diameter=10 * MM)))
    assert [guard.kind for guard in found] == kinds


def test_a_site_under_another_code_gets_notes():
    found = notices(run(straight(), cable=CableFacts("c", "1", "Cu", diameter=10 * MM)), code="other")
    assert [guard.kind for guard in found] == ["note"]
    assert "engineer of record decide" in found[0].text


def test_parallel_conductors_of_120_and_121_ft_are_refused():
    outside = value("CODE-08")
    one, other = int(outside["one_ft"]) * FT, int(outside["other_ft"]) * FT
    guard = unequal_set({"A1": one, "A2": other}, 6 * IN)
    assert guard is not None
    assert (guard.kind, "310.10" in guard.source) == (outside.expected, True)
    assert unequal_set({"A1": one, "A2": one}, 0) is None


# Rows of CODE-09 to 18's table between those: amperes not exceeding, copper, aluminum.
MORE_OF_THE_TABLE = "300 4 2 | 400 3 1 | 500 2 1/0 | 600 1 2/0 | 800 1/0 3/0 | 1000 2/0 4/0"
TABLE = [(int(outside["amps"]), *outside.expected.split()) for outside in values("CODE-09", "CODE-18")]
TABLE += [(int(amps), *sizes) for amps, *sizes in (cell.split() for cell in MORE_OF_THE_TABLE.split("|"))]


@pytest.mark.parametrize(("amps", "copper", "aluminum"), TABLE)
def test_least_ground_cable_is_that_of_table_250_122(amps, copper, aluminum):
    assert (least_ground(amps, "Cu"), least_ground(amps, "Al")) == (copper, aluminum)


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


def cable_of(diameter_in: Fraction, shielded: bool) -> CableFacts:
    return CableFacts("c", "4/0", "Cu", shielded=shielded, diameter=int(diameter_in * IN))


@pytest.mark.parametrize(
    ("outside", "shown"), zip(values("CODE-27", "CODE-28"), ["14.8 in", "7.6 in"], strict=True), ids=["12 x", "8 x"]
)
def test_bending_radius_of_the_code_goes_up(outside, shown):
    cable = cable_of(outside.exact("od_in"), outside["shielded"] == 1)
    radius = least_radius(cable)
    assert float(radius / IN) == pytest.approx(outside.figure, abs=0.01)
    assert radius_up(radius, "ft") == shown
    assert radius / cable.diameter == outside["multiple"]
    assert outside["multiple"] == (BEND_MULTIPLE_SHIELDED if cable.shielded else BEND_MULTIPLE)


@pytest.mark.parametrize("outside", values("COND-31", "COND-34"), ids=lambda outside: outside.id)
def test_tables_cut_the_radius_where_ours_goes_up(outside):
    radius = least_radius(cable_of(outside.exact("od_in"), shielded=True))
    assert floor(radius / IN * 10) / 10 == outside.figure
    assert float(radius_up(radius, "ft").removesuffix(" in")) == pytest.approx(outside.figure + 0.1)


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
