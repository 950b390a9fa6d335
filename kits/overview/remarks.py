"""What does not fit together in what was reported of a run's stages, in words. Pure: no Django."""

from __future__ import annotations

from collections.abc import Mapping

CABLES = "cables"


def remarks(done: Mapping[str, bool], *, uncut: int, conductors: int) -> dict[str, str]:
    """
    Return by stage what should be looked at again; what was reported is kept all the same.

    done : whether each stage is done, in the order of the work, stages with nothing to do left out. uncut : how many
    of the `conductors` have no recorded cut.

    >>> remarks({"cables": True, "seals": False, "covers": True}, uncut=12, conductors=18)
    {'cables': '12 of 18 conductors have no recorded cut', 'seals': 'open, though covers are done'}
    """
    found = {}
    names = list(done)
    for place, stage in enumerate(names):
        later = [name for name in names[place + 1 :] if done[name]]
        if stage == CABLES and done[stage] and uncut:
            found[stage] = f"{uncut} of {conductors} conductors have no recorded cut"
        elif not done[stage] and later:
            found[stage] = f"open, though {' and '.join(later)} are done"
    return found
