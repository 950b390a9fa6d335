"""
What a person does on a page: the cells that its form sends, and what can still be taken back.

A form says one record by the columns of its kind, or several: the nth one's cells are named `n-column`, and what all
share stands without a number. A record is sent only with its id, so a ticked box that holds the id chooses a line.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from uuid import UUID, uuid5

from django.contrib import messages
from django.http import HttpRequest, QueryDict

from takeoff.records.record_kinds import RecordKind
from takeoff.records.reversals import ReversalsKind

MOST_RECORDS = 500
# A line of several that leaves all that it asks for blank is no record.
FIGURES = ("counted", "quantity", "boxes", "about")
LAST_ACT = "last_act"
WRONG_TAP = "wrong tap"
UNDONE = UUID("0d7e1a64-3b5c-4f0e-8a52-7c1d9be2f3a8")  # the ids of what takes back in one touch are made within it


@dataclass(frozen=True, slots=True)
class Done:
    """What was done last on a site, in words, by the ids of its records."""

    told: str
    ids: tuple[str, ...]


def rows_sent(kind: RecordKind, data: QueryDict) -> dict[str, dict[str, str]]:
    """Return the cells of each record that a form sends, by the number that stands before their names."""
    names = [column.name for column in kind.columns]
    shared = _cells(names, data, "")
    numbers = [key.removesuffix("-id") for key in data if key.endswith("-id")]
    if not numbers:
        return {"": shared}
    shared.pop("id", None)
    own = {number: _cells(names, data, f"{number}-") for number in numbers[:MOST_RECORDS]}
    return {number: shared | cells for number, cells in own.items() if not _left_blank(number, cells, data)}


def _left_blank(number: str, cells: Mapping[str, str], data: QueryDict) -> bool:
    """Return whether a line asks for a figure and nobody wrote one."""
    asked = [name for name in FIGURES if f"{number}-{name}" in data]
    return bool(asked) and not any(name in cells for name in FIGURES)


def _cells(names: Sequence[str], data: QueryDict, prefix: str) -> dict[str, str]:
    """Return the cells that are filled; of a list of ticked boxes, the words joined by commas."""
    cells = {name: [value.strip() for value in data.getlist(prefix + name)] for name in names}
    return {name: ", ".join(filter(None, values)) for name, values in cells.items() if any(values)}


def tell_kept(request: HttpRequest, site: str, kind: RecordKind, kept: Sequence[tuple[str, Mapping[str, str]]]) -> None:
    """Say what was done, by ids and cells, and keep how it is taken back; what takes back is not taken back itself."""
    if isinstance(kind, ReversalsKind):
        messages.success(request, f"{kind.did}.")
        remember(request, site, None)
        return
    told = kind.told(kept[0][1]) if len(kept) == 1 else f"{kind.did}: {len(kept)} lines"
    remember(request, site, Done(told, tuple(id_ for id_, _row in kept)))


def remember(request: HttpRequest, site: str, done: Done | None) -> None:
    """Keep what can be taken back in one touch on any page of a site, or that nothing can."""
    request.session[LAST_ACT] = {"site": site, "told": done.told, "ids": done.ids} if done else None


def last_act(request: HttpRequest, site: str) -> Done | None:
    """Return what can be taken back in one touch."""
    kept: Mapping[str, object] = request.session.get(LAST_ACT) or {}
    if kept.get("site") != site:
        return None
    return Done(str(kept["told"]), tuple(kept["ids"]))  # type: ignore[arg-type]  # as `remember` kept it


def rows_to_undo(done: Done | None) -> dict[str, dict[str, str]]:
    """Return the cells of what takes back all that was done; of one record always the same, so that it is done once."""
    ids = done.ids if done else ()
    return {
        str(number): {"id": str(uuid5(UNDONE, id_)), "reverses": id_, "reason": WRONG_TAP}
        for number, id_ in enumerate(ids, start=1)
    }
