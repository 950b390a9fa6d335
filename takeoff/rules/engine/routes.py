"""
What to count on a kind of run, and what to make of the counts: worked out once for all runs of a kind. Pure: no Django.

Rules that count the same share one tally. A thing's traits lead straight to the tallies that it belongs to, and the
quantity of an item is one sum of numerators over one denominator, so that being exact costs little.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import lcm

from takeoff.rules.engine.elements import Elements, Group, unmeasured
from takeoff.rules.engine.families import Family, warning
from takeoff.rules.engine.rows import one_spaced
from takeoff.rules.engine.rule import CompiledRule, RunKind, Tally, Traits


@dataclass(frozen=True, slots=True)
class Route:
    """
    Where things of one count with the same traits are added: places in the list of tallies, by measure.

    spaced : place, spacing and both end offsets together [ticks]. gaps : families of which no rule applies to such
    things, with the choice that is open.
    """

    each: tuple[int, ...]
    spaced: tuple[tuple[int, int, int], ...]
    bead: tuple[int, ...]
    fill: tuple[int, ...]
    gaps: tuple[tuple[Family, str], ...]


@dataclass(frozen=True, slots=True)
class Target:
    """An item in a stage: the sum of tally × numerator over the denominator; by_site and fitted as in its line."""

    item: str
    stage: str
    parts: tuple[tuple[int, int], ...]
    denominator: int
    by_site: bool
    fitted: str


class Counting:
    """What a book counts on one kind of run."""

    def __init__(
        self, kind: RunKind, rules: Mapping[Tally, tuple[CompiledRule, ...]], families: Sequence[Family]
    ) -> None:
        self._kind = kind
        self._tallies = tuple(rules)
        self._rules = tuple(rules.values())
        self._families = families
        counted = [tally.counted_on for tally in rules] + [family.counted_on for family in families]
        self._routes: dict[str, dict[Traits, Route]] = {counted_on: {} for counted_on in counted}
        self.targets = _targets(self._rules)

    def count(self, elements: Elements) -> tuple[list[int | Fraction], list[str]]:
        """Return what each tally counts on a run (numbers, posts, paths in ticks, volumes in mm³), and the warnings."""
        values: list[int | Fraction] = [0] * len(self._tallies)
        warnings: list[str] = []
        for counted_on, routes in self._routes.items():
            for group in elements.of(counted_on):
                if not group.count:
                    continue
                route = routes.get(group.traits)
                if route is None:
                    route = routes[group.traits] = self._route(counted_on, group.traits)
                for place in route.each:
                    values[place] += group.count
                for place, spacing, end_offsets in route.spaced:
                    # `elements.posts` in place: this is where the time goes.
                    for length, many in group.lengths:
                        between = length - end_offsets
                        values[place] += many if between <= 0 else many * (1 - int(-between // spacing))
                for place in route.bead:
                    for length, many in group.lengths:
                        values[place] += many * length
                for place in route.fill:
                    values[place] += max(group.volume or 0, 0)
                for family, gap in route.gaps:
                    warnings.append(warning(elements.run, family, group, gap))
                if route.fill or (not group.lengths and (route.spaced or route.bead)):
                    warnings += self._unmeasured(route, group)
        return values, warnings

    def _route(self, counted_on: str, traits: Traits) -> Route:
        places: dict[str, list[int]] = {"each": [], "spaced": [], "bead": [], "fill": []}
        for place, tally in enumerate(self._tallies):
            if tally.counted_on == counted_on and tally.takes(traits):
                places[tally.measure].append(place)
        tallies = self._tallies
        gaps = (
            (family, gap)
            for family in self._families
            if family.counted_on == counted_on and (gap := family.gap(self._kind, traits)) is not None
        )
        return Route(
            each=tuple(places["each"]),
            spaced=tuple((place, tallies[place].spacing, 2 * tallies[place].end_offset) for place in places["spaced"]),
            bead=tuple(places["bead"]),
            fill=tuple(places["fill"]),
            gaps=tuple(gaps),
        )

    def _unmeasured(self, route: Route, group: Group) -> list[str]:
        """Return a warning for every item that cannot be counted on a group because the sheet leaves a size out."""
        places = [*(place for place, _, _ in route.spaced), *route.bead, *route.fill]
        return [
            f"{rule.item.code}: {gap}"
            for place in places
            if (gap := unmeasured(group, self._tallies[place].measure))
            for rule in self._rules[place]
        ]


def _targets(rules: Sequence[tuple[CompiledRule, ...]]) -> tuple[Target, ...]:
    """Return every item and stage that rules give, `rules` being those of each tally in order."""
    parts: dict[tuple[str, str], list[tuple[int, CompiledRule]]] = {}
    for place, together in enumerate(rules):
        for rule in together:
            parts.setdefault((rule.item.code, rule.stage), []).append((place, rule))
    targets = []
    for (item, stage), given in parts.items():
        denominator = lcm(*(rule.factor.denominator for _, rule in given))
        numerators = tuple((place, int(rule.factor * denominator)) for place, rule in given)
        first = given[0][1]
        by_site = one_spaced(first.row.rounding) == "site"
        targets.append(Target(item, stage, numerators, denominator, by_site, first.item.fitted))
    return tuple(targets)
