"""What must hold for any run and any book."""

from dataclasses import replace
from datetime import date
from fractions import Fraction
from math import ceil

from hypothesis import given
from hypothesis import strategies as st

from takeoff.rules.engine.elements import posts
from takeoff.rules.engine.quantities import Line, RunTakeoff, take_off
from takeoff.rules.engine.rows import STAGES
from takeoff.rules.engine.settle import Key, settle, share_rounded
from takeoff.rules.engine.steps import steps
from takeoff.runs.geometry.facts import CrossingFacts, EndFacts, SectionFacts
from tests.takeoff.facts import FT, IN, ONE, book, default_book, exact, row, run, straight

lengths = st.integers(1, 60 * FT)
spacings = st.integers(IN, 20 * FT)
quantities = st.fractions(min_value=0, max_value=1000, max_denominator=10_000)
keys = st.builds(Key, st.sampled_from(["R1", "R2", "R3"]), st.just("tube"), st.sampled_from(STAGES))
dates = st.dictionaries(
    st.tuples(st.sampled_from(["R1", "R2", "R3"]), st.sampled_from(STAGES)),
    st.none() | st.dates(date(2026, 1, 1), date(2026, 12, 31)),
)
kinds = ["straight", "horizontal elbow", "vertical elbow", "tee", "offset", "expansion"]
sections = st.lists(
    st.builds(
        SectionFacts,
        seq=st.integers(1, 99),
        kind=st.sampled_from(kinds),
        length=lengths,
        lie=st.sampled_from(["horizontal", "vertical"]),
        cover=st.booleans(),
    ),
    min_size=1,
    max_size=6,
)
FEET = default_book("feet")


@given(length=lengths, spacing=spacings)
def test_half_a_bay_at_each_end_holds_the_spacing_across_joints(length, spacing):
    spacing -= spacing % 2
    count = posts(length, spacing, spacing // 2)
    assert count == max(1, ceil(Fraction(length, spacing)))
    # Spread evenly, no post is further than the spacing from the next, nor than half of it from an end.
    assert Fraction(length, count) <= spacing or length <= spacing


@given(length=lengths, spacing=spacings, end_offset=st.integers(0, 2 * FT))
def test_no_bay_is_wider_than_the_spacing_and_no_post_is_spare(length, spacing, end_offset):
    count = posts(length, spacing, end_offset)
    between = length - 2 * end_offset
    if between > 0:
        assert Fraction(between, count - 1) <= spacing
        assert count == 2 or Fraction(between, count - 2) > spacing
    else:
        assert count == 1


@given(length=lengths, more=lengths, spacing=spacings, end_offset=st.integers(0, FT))
def test_posts_never_fall_as_a_length_grows(length, more, spacing, end_offset):
    assert posts(length, spacing, end_offset) <= posts(length + more, spacing, end_offset)


@given(first=lengths, second=lengths, tiers=st.integers(1, 4))
def test_splitting_a_straight_at_a_joint_never_lowers_anything(first, second, tiers):
    whole = take_off(run(straight(first + second), tiers=tiers), FEET)
    split = take_off(run(straight(first), straight(second, 2), tiers=tiers), FEET)
    for line in whole.lines:
        assert exact(split, line.item, line.stage) >= line.exact


@given(sections=sections, grown=st.integers(0, 5), more=lengths)
def test_a_longer_section_never_needs_less(sections, grown, more):
    facts = run(*sections)
    longer = [
        replace(section, length=section.length + more) if place == grown % len(sections) else section
        for place, section in enumerate(sections)
    ]
    before, after = take_off(facts, FEET), take_off(run(*longer), FEET)
    for line in before.lines:
        assert exact(after, line.item, line.stage) >= line.exact


@given(sections=sections)
def test_like_sections_counted_together_are_the_same_as_one_by_one(sections):
    rules = book(row("section", "spaced", spacing=3 * FT, end_offset=18 * IN), row("cover", "spaced", spacing=FT))
    counted = sum(posts(section.length, 3 * FT, 18 * IN) for section in sections)
    counted += sum(posts(section.length, FT, 0) for section in sections if section.cover)
    assert exact(take_off(run(*sections), rules)) == counted


@given(amount=st.integers(1, 9 * ONE), allowance=st.integers(0, 5000), ends=st.integers(1, 40))
def test_every_quantity_is_exact(amount, allowance, ends):
    rules = book(row("conductor", "cut pieces", amount, item="stick", piece=7 * IN, allowance=allowance))
    found = exact(take_off(run(straight(), phases=1, cables_per_phase=ends), rules), "stick")
    assert found == Fraction(amount, ONE) * ends / 6 * (1 + Fraction(allowance, ONE))


@given(pool=st.dictionaries(keys, quantities, min_size=1), planned=dates)
def test_shares_add_up_to_the_whole_total_and_stay_near_their_part(pool, planned):
    shares = share_rounded(pool, planned)
    total = ceil(sum(pool.values()))
    assert sum(shares.values()) == total * ONE
    assert all(share >= 0 for share in shares.values())
    whole = sum(pool.values())
    off = [abs(shares[key] - total * ONE * pool[key] / whole) for key in pool if whole]
    assert all(difference < len(pool) for difference in off)


@given(pool=st.dictionaries(keys, quantities, min_size=1), planned=dates, by_site=st.booleans())
def test_settled_lines_are_whole_by_run_and_add_up_whole_by_site(pool, planned, by_site):
    takeoffs = {
        name: RunTakeoff(
            name, tuple(Line(key.item, key.stage, value, by_site) for key, value in pool.items() if key.run == name)
        )
        for name in ("R1", "R2", "R3")
    }
    settled = settle(takeoffs, planned)
    assert settled.keys() == pool.keys()
    if by_site:
        assert sum(line.quantity for line in settled.values()) == ceil(sum(pool.values())) * ONE
    else:
        assert all(line.quantity == ceil(pool[key]) * ONE for key, line in settled.items())


@given(sections=sections, tiers=st.integers(1, 4), unit=st.sampled_from(["ft", "m"]))
def test_every_line_has_steps_with_a_source_that_end_in_its_quantity(sections, tiers, unit):
    ends = (
        EndFacts("from", seal="moulded", seal_width=24 * IN, seal_height=12 * IN),
        EndFacts("to", seal="caulked", seal_width=24 * IN, seal_height=12 * IN),
    )
    crossing = CrossingFacts(FT, "wall", 24 * IN, 12 * IN, 4 * IN, fire_rated=True)
    takeoff = take_off(run(*sections, tiers=tiers, ends=ends, crossings=(crossing,)), FEET)
    facts = run(*sections, tiers=tiers, ends=ends, crossings=(crossing,))
    for line in takeoff.lines:
        found = steps(facts, FEET, line.item, line.stage, unit=unit)
        assert all(step.source and step.result for step in found)
        unit_of_item = FEET.items[line.item].unit
        if line.by_site:
            assert found[-1].source == "rounding by site"
        else:
            assert found[-1].result == f"{ceil(line.exact)} {unit_of_item}"
