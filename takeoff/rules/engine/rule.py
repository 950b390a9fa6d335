"""One rule made ready, and what of a run decides whether it applies. Pure: no Django."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from takeoff.rules.engine.rows import RuleItem, RuleRow
from takeoff.runs.geometry.facts import RunFacts
from takeoff.units.sizes import parse_size


@dataclass(frozen=True, slots=True)
class SizeBand:
    """Sizes from `low` to `high`, both included unless `above_low`: a shared limit belongs to the lower band. [mm²]"""

    low: Fraction | None
    high: Fraction | None
    above_low: bool = False

    def holds(self, area: Fraction | None) -> bool:
        """Return whether a cross-section lies in the band; no cable lies in none."""
        if area is None or (self.high is not None and area > self.high):
            return False
        return self.low is None or (area > self.low if self.above_low else area >= self.low)


class Traits(NamedTuple):
    """What conditions on things choose by; empty where it does not apply."""

    kind: str = ""
    lie: str = ""
    seal: str = ""
    holes: int = 0
    fire_rated: bool = False
    crossing_kind: str = ""


@dataclass(frozen=True, slots=True)
class Tally:
    """
    What a rule counts on a run: things of one count that meet conditions, and how.

    measure : each (how many), spaced (posts), bead (length of path), fill (volume).
    """

    counted_on: str
    measure: str
    spacing: int = 0
    end_offset: int = 0
    kinds: frozenset[str] | None = None
    lies: frozenset[str] | None = None
    seals: frozenset[str] | None = None
    holes: frozenset[int] | None = None
    fire_rated: bool | None = None
    crossing_kinds: frozenset[str] | None = None

    def takes(self, traits: Traits) -> bool:
        """Return whether the conditions hold for things with these traits."""
        return (
            (self.kinds is None or traits.kind in self.kinds)
            and (self.lies is None or traits.lie in self.lies)
            and (self.seals is None or traits.seal in self.seals)
            and (self.holes is None or traits.holes in self.holes)
            and (self.fire_rated is None or traits.fire_rated is self.fire_rated)
            and (self.crossing_kinds is None or traits.crossing_kind in self.crossing_kinds)
        )


@dataclass(frozen=True, slots=True)
class RunKind:
    """What of a run decides which rules apply to it. `ground` and `cable` are cross-sections. [mm²]"""

    tiers: int
    voltage_class: str
    location: str
    ground: Fraction | None
    cable: Fraction
    has_ground: bool

    @classmethod
    def of(cls, run: RunFacts) -> RunKind:
        """Return the kind of a run."""
        has_ground = run.ground_cables > 0
        ground = parse_size(run.ground_cable.size).area_mm2 if has_ground and run.ground_cable else None
        cable = parse_size(run.cable.size).area_mm2
        return cls(run.tiers, run.voltage_class, run.location, ground, cable, has_ground)


@dataclass(frozen=True, slots=True)
class CompiledRule:
    """A row made ready. Quantity = `factor` × what `tally` counts; the allowance is in the factor."""

    row: RuleRow
    item: RuleItem
    stage: str
    measure: str
    family: str
    tally: Tally
    factor: Fraction
    tiers: frozenset[int] | None
    voltage_classes: frozenset[str] | None
    locations: frozenset[str] | None
    ground: SizeBand | None
    cable: SizeBand | None

    def fits(self, kind: RunKind) -> bool:
        """Return whether the conditions on the run as a whole hold."""
        return (
            (self.tiers is None or kind.tiers in self.tiers)
            and (self.voltage_classes is None or kind.voltage_class in self.voltage_classes)
            and (self.locations is None or kind.location in self.locations)
            and (self.ground is None or self.ground.holds(kind.ground))
            and (self.cable is None or self.cable.holds(kind.cable))
        )
