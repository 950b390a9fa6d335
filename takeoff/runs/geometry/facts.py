"""
A run as plain facts, the way the pure arithmetic takes it.

Every length is whole ticks (1/10 000 mm, see `takeoff/units/exact.py`); an angle is in degrees. Fields mean what the
models of the same names mean.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal


@dataclass(frozen=True, slots=True)
class CableFacts:
    """A kind of cable. `diameter` in ticks, None when the sheet gives none."""

    code: str
    size: str
    material: str
    voltage_class: str = "LV"
    insulation: str = ""
    shielded: bool = False
    diameter: int | None = None


@dataclass(frozen=True, slots=True)
class SectionFacts:
    """A straight or a fitting. `length` as drawn, `measured` as built, both in ticks along the centre line."""

    seq: int
    kind: str
    length: int
    lie: str = "horizontal"
    angle: Decimal | None = None
    turn: str = ""
    radius: int | None = None
    cover: bool = True
    item: str = ""
    mark: str = ""
    cover_item: str = ""
    measured: int | None = None


@dataclass(frozen=True, slots=True)
class EndFacts:
    """An end of a run, `end` being from or to. Lengths in ticks."""

    end: str
    stick_out: int = 0
    min_stick_out: int | None = None
    ground_tail: int = 0
    lug_holes: int = 2
    ground_lug_holes: int = 2
    seal: str = "none"
    seal_width: int | None = None
    seal_height: int | None = None


@dataclass(frozen=True, slots=True)
class CrossingFacts:
    """A passage through a wall or floor. Lengths in ticks."""

    at: int
    kind: str
    width: int | None = None
    height: int | None = None
    depth: int | None = None
    fire_rated: bool = False
    seal: str = "none"


@dataclass(frozen=True, slots=True)
class ConductorFacts:
    """What the drawing says of a conductor: its tier, its position in the tier, and length beyond the rest (ticks)."""

    name: str
    tier: int | None = None
    position: int | None = None
    extra: int = 0


@dataclass(frozen=True, slots=True)
class RunFacts:
    """
    A run with all that its takeoff needs.

    `slack` is a fraction (0.02 for 2 %); `measured` the latest measured centre line of the whole run in ticks. The
    conductors listed are those that the drawing places; all others exist too, unplaced.
    """

    name: str
    tiers: int
    phases: int
    cables_per_phase: int
    cable: CableFacts
    neutrals: int = 0
    neutral_cable: CableFacts | None = None
    ground_cable: CableFacts | None = None
    ground_cables: int = 1
    voltage_class: str = "LV"
    location: str = "indoor"
    breaker_amps: int | None = None
    slack: Decimal = Decimal(0)
    pull_allowance: int = 0
    centre_spacing: int | None = None
    drawing_length: int | None = None
    measured: int | None = None
    sections: tuple[SectionFacts, ...] = ()
    ends: tuple[EndFacts, ...] = ()
    crossings: tuple[CrossingFacts, ...] = ()
    conductors: tuple[ConductorFacts, ...] = ()

    @property
    def drawn_line(self) -> int:
        """The centre line as drawn: the sum of the sections. [ticks]"""
        return sum(section.length for section in self.sections)

    @property
    def centre_line(self) -> int:
        """The centre line that counts now: as measured for the run, else per section, else as drawn. [ticks]"""
        if self.measured is not None:
            return self.measured
        return sum(section.length if section.measured is None else section.measured for section in self.sections)

    @property
    def both_ends(self) -> tuple[EndFacts, EndFacts]:
        """The from end and the to end; an end that nobody described has the values that are usual."""
        known = {end.end: end for end in self.ends}
        return known.get("from") or EndFacts("from"), known.get("to") or EndFacts("to")

    @property
    def untold(self) -> tuple[str, ...]:
        """What nobody has told yet and no cut length does without: an end, or what lies between the ends."""
        known = {end.end for end in self.ends}
        lacking = [f"the {end} end" for end in ("from", "to") if end not in known]
        return (*lacking, *(() if self.sections or self.measured is not None else ("the sections",)))

    @property
    def conductor_count(self) -> int:
        """How many conductors the run has: phases and neutrals, ground cables never."""
        return self.phases * self.cables_per_phase + self.neutrals

    def as_drawn(self) -> RunFacts:
        """Return the same run with every as-built length left out."""
        sections = tuple(replace(section, measured=None) for section in self.sections)
        return replace(self, measured=None, sections=sections)
