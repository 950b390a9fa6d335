"""
How fast a site is taken off, beside a bare loop doing the same arithmetic on floats.

1 000 runs of 20 sections, 60 rules of the default book. Both give the same quantities, which is checked; the engine
also keeps every quantity exact and warns of families without a rule. Run it with

    python -m tests.benchmarks.takeoff
"""

import gc
import math
import random
import time

from takeoff.rules.engine.book import Book, compile_book
from takeoff.rules.engine.quantities import take_off
from takeoff.rules.engine.rows import RuleRow
from takeoff.runs.geometry.facts import CableFacts, CrossingFacts, EndFacts, RunFacts, SectionFacts
from takeoff.units.exact import SCALE
from takeoff.units.sizes import parse_size
from tests.takeoff.facts import CABLE, FT, IN, default_items, default_rows

RUNS, SECTIONS, RULES = 1000, 20, 60
ROUNDS = 9
MUST_REACH = 2.0
KINDS = ["straight"] * 12 + ["horizontal elbow", "vertical elbow", "tee", "offset", "expansion"]
# Left out of the default book, so that 60 rules of every measure remain.
SKIPPED = ("clamp bolt", "block bolts, 1", "block bolts, 4", "middle block, 4", "seal blocks, 1", "seal blocks, 4")
ALSO_SKIPPED = (
    "ground lug bolt",
    "ground lug flat",
    "ground lug conical",
    "clamp lock",
    "splice washers",
    "splice nuts",
    "lugs, 1 hole",
)


def chosen_rows() -> list[RuleRow]:
    """The 60 rules."""
    rows = [row for row in default_rows("feet") if not row.name.startswith((*SKIPPED, *ALSO_SKIPPED))]
    assert len(rows) == RULES, len(rows)
    return rows


def some_runs(seed: int = 7) -> list[RunFacts]:
    """Runs as drawings give them: most straights of 10 or 12 ft, the rest of any length to 1/16 in."""
    draw = random.Random(seed)
    runs = []
    for number in range(RUNS):
        sections = []
        for seq in range(SECTIONS):
            kind = draw.choice(KINDS)
            length = draw.choice([10 * FT, 12 * FT]) if draw.random() < 0.6 else draw.randint(24, 2300) * IN // 16
            lie = draw.choice(["horizontal", "horizontal", "horizontal", "vertical"])
            sections.append(SectionFacts(seq, kind, length, lie, cover=kind != "expansion"))
        ends = (
            EndFacts("from", 5 * FT, lug_holes=2, seal="moulded", seal_width=24 * IN, seal_height=12 * IN),
            EndFacts(
                "to",
                6 * FT,
                lug_holes=4,
                seal=draw.choice(["none", "caulked"]),
                seal_width=24 * IN,
                seal_height=12 * IN,
            ),
        )
        wall = CrossingFacts(20 * FT, "wall", 24 * IN, 12 * IN, 4 * IN, fire_rated=draw.random() < 0.5)
        size = draw.choice(["4/0", "250", "350", "500", "750"])
        runs.append(
            RunFacts(
                f"R{number}",
                tiers=draw.choice([2, 3]),
                phases=3,
                cables_per_phase=draw.choice([2, 4, 6]),
                cable=CABLE,
                ground_cable=CableFacts("g", size, "Cu", diameter=200_000),
                voltage_class=draw.choice(["LV", "LV", "MV"]),
                sections=tuple(sections),
                ends=ends,
                crossings=(wall,),
            )
        )
    return runs


class FloatRule:
    """A rule with every number a float and every condition ready to compare."""

    def __init__(self, book: Book, place: int) -> None:
        rule = book.rules[place]
        row = rule.row
        self.key = (row.item, row.stage)
        self.counted_on = row.counted_on
        self.measure = row.measure
        self.amount = row.amount / SCALE
        self.spacing = (row.spacing or 0) / SCALE
        self.end_offset = (row.end_offset or 0) / SCALE
        self.sides = row.sides or 1
        self.piece = (row.piece or 0) / SCALE
        self.bead = (row.bead or 0) / SCALE
        self.stick = (rule.item.stock_length or 0) / SCALE
        self.contents = float(rule.item.contents or 0)
        self.factor = 1 + row.allowance / SCALE
        self.tiers = rule.tiers
        self.voltage = row.voltage_class
        self.kind = row.section_kind
        self.lie = row.lie
        self.seal = row.seal
        self.holes = rule.tally.holes
        self.fire_rated = row.fire_rated
        self.low = float(parse_size(row.ground_min).area_mm2) if row.ground_min else None
        self.high = float(parse_size(row.ground_max).area_mm2) if row.ground_max else None
        self.above = bool(rule.ground and rule.ground.above_low)


class FloatRun:
    """A run with every number a float."""

    def __init__(self, run: RunFacts) -> None:
        self.tiers = run.tiers
        self.voltage = run.voltage_class
        self.ground = float(parse_size(run.ground_cable.size).area_mm2)
        self.sections = [(s.kind, s.lie, s.length / SCALE, s.cover) for s in run.sections]
        self.length = sum(section[2] for section in self.sections)
        self.conductors = run.conductor_count
        self.grounds = run.ground_cables
        self.diameter = run.cable.diameter / SCALE
        self.ground_diameter = run.ground_cable.diameter / SCALE
        self.holes = [end.lug_holes for end in run.ends]
        self.ground_holes = [end.ground_lug_holes for end in run.ends]
        self.seals = [(e.seal, e.seal_width / SCALE, e.seal_height / SCALE) for e in run.ends if e.seal != "none"]
        self.crossings = [(c.width / SCALE, c.height / SCALE, c.depth / SCALE, c.fire_rated) for c in run.crossings]


def float_posts(length: float, spacing: float, end_offset: float) -> int:
    """Posts on floats; a hair is taken off so that 36/3 is 12."""
    between = length - 2 * end_offset
    return 1 if between <= 0 else math.ceil(between / spacing - 1e-9) + 1


def bare_loop(runs: list[FloatRun], rules: list[FloatRule]) -> list[dict[tuple[str, str], float]]:
    """The same quantities by a plain loop over runs, rules and sections."""
    results = []
    for run in runs:
        totals: dict[tuple[str, str], float] = {}
        for rule in rules:
            if rule.tiers is not None and run.tiers not in rule.tiers:
                continue
            if rule.voltage and run.voltage != rule.voltage:
                continue
            if rule.high is not None and run.ground > rule.high:
                continue
            if rule.low is not None and (run.ground <= rule.low if rule.above else run.ground < rule.low):
                continue
            counted_on = rule.counted_on
            spaced = rule.measure == "spaced"
            value = 0.0
            if counted_on in ("section", "straight", "fitting", "cover"):
                for kind, lie, length, cover in run.sections:
                    if counted_on == "straight" and kind != "straight":
                        continue
                    if counted_on == "fitting" and kind == "straight":
                        continue
                    if counted_on == "cover" and not cover:
                        continue
                    if rule.kind and kind != rule.kind:
                        continue
                    if rule.lie and lie != rule.lie:
                        continue
                    value += float_posts(length, rule.spacing, rule.end_offset) if spaced else 1
            elif counted_on == "run":
                value = float_posts(run.length, rule.spacing, rule.end_offset) if spaced else 1
            elif counted_on == "joint":
                value = max(0, len(run.sections) - 1)
            elif counted_on == "conductor end":
                value = sum(run.conductors for holes in run.holes if rule.holes is None or holes in rule.holes)
            elif counted_on == "ground end":
                value = sum(run.grounds for holes in run.ground_holes if rule.holes is None or holes in rule.holes)
            elif counted_on == "lug hole":
                value = sum(run.conductors * holes for holes in run.holes)
            elif counted_on == "ground lug hole":
                value = sum(run.grounds * holes for holes in run.ground_holes)
            elif counted_on.startswith("seal"):
                for seal, width, height in run.seals:
                    if rule.seal and seal != rule.seal:
                        continue
                    if counted_on == "seal":
                        value += 1
                    elif counted_on == "seal plate edge":
                        value += 2 * (width + height)
                    elif counted_on == "seal cable hole":
                        value += run.conductors * math.pi * run.diameter
                    else:
                        value += (run.tiers + 1) * width
            elif counted_on == "crossing":
                cables = run.conductors * run.diameter**2 + run.grounds * run.ground_diameter**2
                for width, height, depth, fire_rated in run.crossings:
                    if rule.fire_rated is None or fire_rated == rule.fire_rated:
                        value += (width * height - math.pi / 4 * cables) * depth
            if not value:
                continue
            if spaced:
                quantity = value * rule.sides * rule.amount
            elif rule.measure == "cut pieces":
                quantity = value * rule.amount / (rule.stick // rule.piece)
            elif rule.measure == "bead":
                quantity = math.pi / 4 * rule.bead**2 * value * rule.amount / rule.contents
            elif rule.measure == "fill":
                quantity = value * rule.amount / rule.contents
            elif rule.measure == "length":
                quantity = value * rule.amount / rule.stick
            else:
                quantity = value * rule.amount
            totals[rule.key] = totals.get(rule.key, 0.0) + quantity * rule.factor
        results.append(totals)
    return results


def best(*works) -> list[tuple[float, object]]:
    """The shortest time of each work over rounds in which they take turns, and what it gave. [s]"""
    times = [math.inf] * len(works)
    results = [None] * len(works)
    for _ in range(ROUNDS):
        for place, work in enumerate(works):
            results[place] = None
            gc.collect()
            start = time.perf_counter()
            results[place] = work()
            times[place] = min(times[place], time.perf_counter() - start)
    return list(zip(times, results, strict=True))


def main() -> None:
    """Measure both, check that they agree, print the ratio."""
    rows, items, runs = chosen_rows(), default_items("feet"), some_runs()
    book = compile_book(rows, items)
    float_rules = [FloatRule(book, place) for place in range(len(rows))]
    float_runs = [FloatRun(run) for run in runs]
    # A fresh book each round, so that nothing is remembered from the round before.
    (exact_seconds, exact), (float_seconds, floats) = best(
        lambda: [take_off(run, fresh) for fresh in [compile_book(rows, items)] for run in runs],
        lambda: bare_loop(float_runs, float_rules),
    )
    lines = 0
    for takeoff, totals in zip(exact, floats, strict=True):
        found = {(line.item, line.stage): float(line.exact) for line in takeoff.lines}
        assert found.keys() == totals.keys()
        assert all(math.isclose(found[key], totals[key], rel_tol=1e-9) for key in found)
        lines += len(found)
    ratio = exact_seconds / float_seconds
    print(f"{RUNS} runs x {SECTIONS} sections x {len(rows)} rules, {lines} lines, both agree")
    print(f"exact engine {exact_seconds:.3f} s, bare float loop {float_seconds:.3f} s")
    print(f"ratio {ratio:.2f} (must reach {MUST_REACH:.1f} or less)")


if __name__ == "__main__":
    main()
