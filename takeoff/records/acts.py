"""
What a person does on a page: the cells that its form sends, and what can still be taken back.

A form says one record by the columns of its kind, or several: the nth one's cells are named `n-column`, and what all
share stands without a number. A record is sent only with its id, so a ticked box that holds the id chooses a line.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.http import HttpRequest, QueryDict
from django.utils.http import url_has_allowed_host_and_scheme

from takeoff.records.record_kinds import RecordKind

MOST_RECORDS = 500
FIGURES = ("counted", "quantity", "boxes")  # a line of several that leaves all that it asks for blank is no record
LAST_ACT = "last_act"


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


def way_back(request: HttpRequest, otherwise: str) -> str:
    """Return the page of ours that a form wants to see next, or another."""
    wanted = request.POST.get("next") or request.GET.get("next") or ""
    ours = url_has_allowed_host_and_scheme(wanted, {request.get_host()}, require_https=request.is_secure())
    return wanted if ours else otherwise


def remember(request: HttpRequest, site: str, done: Done | None) -> None:
    """Keep what can be taken back in one touch on any page of a site, or that nothing can."""
    request.session[LAST_ACT] = {"site": site, "told": done.told, "ids": done.ids} if done else None


def last_act(request: HttpRequest, site: str) -> Done | None:
    """Return what can be taken back in one touch."""
    kept: Mapping[str, object] = request.session.get(LAST_ACT) or {}
    if kept.get("site") != site:
        return None
    return Done(str(kept["told"]), tuple(kept["ids"]))  # type: ignore[arg-type]  # as `remember` kept it
