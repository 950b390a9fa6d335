"""
Families of rules: a run for which a family has no rule is warned of, so that silence is never zero. Pure: no Django.

A family is a choice. For every thing that its rows count, at least one row must apply. Tiers, lug holes and sizes are
what rows choose by: every run has them. Of the other conditions, one that all rows of the family share says whom the
family is for (medium voltage, fire-rated crossings); one in which they differ is a choice too.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

from takeoff.rules.engine.elements import Group
from takeoff.rules.engine.rule import CompiledRule, RunKind, Tally, Traits
from takeoff.runs.geometry.facts import RunFacts

_T = TypeVar("_T")


@dataclass(frozen=True, slots=True)
class Family:
    """
    The rows of one family that count on the same things.

    scope : the conditions on things that all rows share. choices : conditions that some row chooses by.
    """

    name: str
    counted_on: str
    rules: tuple[CompiledRule, ...]
    voltage_classes: frozenset[str] | None
    locations: frozenset[str] | None
    scope: Tally
    choices: tuple[str, ...]

    def concerns(self, kind: RunKind, traits: Traits) -> bool:
        """Return whether the family is for things with these traits on a kind of run."""
        return (
            (self.voltage_classes is None or kind.voltage_class in self.voltage_classes)
            and (self.locations is None or kind.location in self.locations)
            and self.scope.takes(traits)
        )

    def gap(self, kind: RunKind, traits: Traits) -> str | None:
        """Return the choice in which no rule applies, "" when none applies at all, None when one does."""
        if not self.concerns(kind, traits):
            return None
        applying = [rule for rule in self.rules if rule.fits(kind) and rule.tally.takes(traits)]
        for choice in self.choices:
            if choice == "ground" and not kind.has_ground:
                continue  # the framework is the ground path
            if not any(_uses(rule, choice) for rule in applying):
                return choice
        if applying or (not kind.has_ground and "ground" in self.choices):
            return None
        return ""


def families_of(rules: Sequence[CompiledRule]) -> tuple[Family, ...]:
    """Return the families of a book; rules that name none belong to none."""
    together: dict[tuple[str, str], list[CompiledRule]] = {}
    for rule in rules:
        if rule.family:
            together.setdefault((rule.family, rule.tally.counted_on), []).append(rule)
    return tuple(_family(name, counted_on, alike) for (name, counted_on), alike in together.items())


def warning(run: RunFacts, family: Family, group: Group, gap: str) -> str:
    """Return the warning that no rule of a family applies to a group, `gap` being what the rows choose by."""
    return f"no {family.name} rule matched: {_described(run, group, gap)}"


def _family(name: str, counted_on: str, rules: list[CompiledRule]) -> Family:
    tallies = [rule.tally for rule in rules]
    scope = Tally(
        counted_on,
        "each",
        kinds=_shared([tally.kinds for tally in tallies]),
        lies=_shared([tally.lies for tally in tallies]),
        seals=_shared([tally.seals for tally in tallies]),
        fire_rated=_shared([tally.fire_rated for tally in tallies]),
        crossing_kinds=_shared([tally.crossing_kinds for tally in tallies]),
    )
    return Family(
        name=name,
        counted_on=counted_on,
        rules=tuple(rules),
        voltage_classes=_shared([rule.voltage_classes for rule in rules]),
        locations=_shared([rule.locations for rule in rules]),
        scope=scope,
        choices=tuple(
            choice for choice in ("ground", "cable", "tiers", "holes") if any(_uses(rule, choice) for rule in rules)
        ),
    )


def _shared(values: list[_T | None]) -> _T | None:
    """Return the value that all share, None where they differ."""
    return values[0] if all(value == values[0] for value in values) else None


def _uses(rule: CompiledRule, choice: str) -> bool:
    """Return whether a rule chooses by a condition."""
    if choice == "holes":
        return rule.tally.holes is not None
    return getattr(rule, choice) is not None


def _described(run: RunFacts, group: Group, gap: str) -> str:
    """Return what no rule was for, in words."""
    traits = group.traits
    size = run.ground_cable.size if run.ground_cable else "of no stated size"
    reason = {
        "ground": f"ground cable {size}, ",
        "cable": f"cable {run.cable.size}, ",
        "tiers": f"{run.tiers} tier{'' if run.tiers == 1 else 's'}, ",
        "holes": f"{traits.holes} lug hole{'' if traits.holes == 1 else 's'}, ",
    }.get(gap, "")
    lie = f"{traits.lie} " if traits.lie else ""
    seal = f"{traits.seal} " if traits.seal else ""
    return f"{reason}{lie}{seal}{group.where}"
