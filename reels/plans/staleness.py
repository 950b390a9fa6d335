"""
What a stored cut plan was made from, and what has changed since: why it is stale. Pure.

Lengths are ticks (1/10 000 mm).
"""

from __future__ import annotations

import hashlib
import json
from collections import defaultdict
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

# A conductor: its run's name and its own.
Name = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Inputs:
    """
    All that decides a plan of one cable.

    reels : length that may be planned of each reel by tag. cuts : ids of the cuts recorded on each of them.
    needs : length of each conductor that is still to be cut. planned : the day its cable is planned, "" undated.
    as_built : what was measured of each run, as text that only is compared. settings : grid, keep length, rates.
    """

    reels: Mapping[str, int] = field(default_factory=dict)
    cuts: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    needs: Mapping[Name, int] = field(default_factory=dict)
    planned: Mapping[str, str] = field(default_factory=dict)
    as_built: Mapping[str, str] = field(default_factory=dict)
    settings: Mapping[str, str] = field(default_factory=dict)

    def as_json(self) -> dict[str, Any]:
        """Return it as a JSON column keeps it."""
        return {
            "reels": dict(self.reels),
            "cuts": {tag: list(ids) for tag, ids in self.cuts.items()},
            "needs": [[run, conductor, length] for (run, conductor), length in sorted(self.needs.items())],
            "planned": dict(self.planned),
            "as_built": dict(self.as_built),
            "settings": dict(self.settings),
        }

    @classmethod
    def from_json(cls, kept: Mapping[str, Any]) -> Inputs:
        """Return what `as_json` gave."""
        return cls(
            reels=dict(kept.get("reels", {})),
            cuts={tag: tuple(ids) for tag, ids in kept.get("cuts", {}).items()},
            needs={(run, conductor): length for run, conductor, length in kept.get("needs", [])},
            planned=dict(kept.get("planned", {})),
            as_built=dict(kept.get("as_built", {})),
            settings=dict(kept.get("settings", {})),
        )

    @property
    def digest(self) -> str:
        """A hash of all of it; the same digest means that the same plan would be asked for."""
        return hashlib.sha256(json.dumps(self.as_json(), sort_keys=True).encode()).hexdigest()


@dataclass(frozen=True, slots=True)
class CutMade:
    """A conductor that was cut: from which reel, under which id."""

    reel: str
    cut: str


@dataclass(frozen=True, slots=True)
class InputChange:
    """
    One reason for which a plan is stale.

    kind : cut, reel, as-built length, need, date or setting. as_planned : a cut that the plan itself asked for.
    """

    kind: str
    text: str
    as_planned: bool = False

    def __str__(self) -> str:
        return self.text


def changes(
    then: Inputs,
    now: Inputs,
    *,
    made: Mapping[Name, CutMade],
    planned_on: Mapping[Name, str],
    up: Callable[[int], str],
    down: Callable[[int], str],
) -> tuple[InputChange, ...]:
    """
    Return what has changed since a plan was made, most telling first.

    made : the conductors that are cut now. planned_on : the reel that the plan takes each conductor off.
    up, down : how a length is told that must not read short, and one that must not promise too much.
    """
    found = [
        *_cuts(then, now, made, planned_on),
        *_reels(then, now, made, planned_on, down),
        *_needs(then, now, made, up),
    ]
    found += [
        InputChange("date", f"The cables of {run} are planned for {now.planned[run] or 'no day'}.")
        for run in sorted(then.planned.keys() & now.planned.keys())
        if then.planned[run] != now.planned[run]
    ]
    found += [
        InputChange("setting", f"The setting {name} changed.")
        for name in sorted(then.settings.keys() | now.settings.keys())
        if then.settings.get(name) != now.settings.get(name)
    ]
    return tuple(found)


def _cuts(then: Inputs, now: Inputs, made: Mapping[Name, CutMade], planned_on: Mapping[Name, str]) -> list[InputChange]:
    found, told = [], set()
    for name in sorted(then.needs):
        if name in made and name not in now.needs:
            cut, wanted = made[name], planned_on.get(name)
            told.add(cut.cut)
            # A cut that was there before the plan only counts since somebody accepted it.
            as_planned = cut.reel == wanted and cut.cut not in then.cuts.get(cut.reel, ())
            how = "as planned" if as_planned else f"planned off {wanted}" if wanted else "not planned"
            found.append(InputChange("cut", f"{' '.join(name)} was cut off {cut.reel}, {how}.", as_planned))
    for tag in sorted(then.cuts.keys() | now.cuts.keys()):
        before, after = set(then.cuts.get(tag, ())), set(now.cuts.get(tag, ()))
        found += [InputChange("cut", f"Cut {cut} was recorded on {tag}.") for cut in sorted(after - before - told)]
        if tag in now.cuts:
            found += [InputChange("cut", f"Cut {cut} on {tag} was taken back.") for cut in sorted(before - after)]
    return found


def _reels(
    then: Inputs,
    now: Inputs,
    made: Mapping[Name, CutMade],
    planned_on: Mapping[Name, str],
    show: Callable[[int], str],
) -> list[InputChange]:
    found = [InputChange("reel", f"Reel {tag} came.") for tag in sorted(now.reels.keys() - then.reels.keys())]
    for tag in sorted(then.reels.keys() - now.reels.keys()):
        share = [made[name].reel if name in made else "" for name, planned in planned_on.items() if planned == tag]
        # One that gave all that was planned off it may be used up by that.
        found.append(InputChange("reel", f"Reel {tag} can no longer be cut.", bool(share) and set(share) == {tag}))
    found += [
        InputChange("reel", f"Reel {tag} holds {_now_not_then(now.reels[tag], then.reels[tag], show)}.")
        for tag in sorted(then.reels.keys() & now.reels.keys())
        if then.reels[tag] != now.reels[tag] and then.cuts.get(tag) == now.cuts.get(tag)
    ]
    return found


def _needs(then: Inputs, now: Inputs, made: Mapping[Name, CutMade], show: Callable[[int], str]) -> list[InputChange]:
    found = [
        InputChange("as-built length", f"The as-built length of {run} changed.")
        for run in sorted(then.as_built.keys() | now.as_built.keys())
        # A run that has all its cable is left out of what is planned now; its length did not change by that.
        if run in now.planned and then.as_built.get(run) != now.as_built.get(run)
    ]
    longer: dict[tuple[str, int, int], list[str]] = defaultdict(list)
    for name in sorted(then.needs.keys() & now.needs.keys()):
        if then.needs[name] != now.needs[name]:
            longer[name[0], then.needs[name], now.needs[name]].append(name[1])
    for (run, old, new), names in longer.items():
        verb = "needs" if len(names) == 1 else "need"
        found.append(InputChange("need", f"{run} {', '.join(names)} {verb} {_now_not_then(new, old, show)}."))
    come, gone = now.needs.keys() - then.needs.keys(), then.needs.keys() - now.needs.keys() - made.keys()
    found += [InputChange("need", f"{' '.join(name)} is to be cut.") for name in sorted(come)]
    found += [InputChange("need", f"{' '.join(name)} is no longer to be cut.") for name in sorted(gone)]
    return found


def _now_not_then(now: int, then: int, show: Callable[[int], str]) -> str:
    """Return two lengths that differ in words, also where a tape would not show it."""
    told, before = show(now), show(then)
    if told != before:
        return f"{told}, not {before}"
    return f"a little {'more' if now > then else 'less'} than before: {told}"
