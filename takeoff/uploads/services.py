"""
An upload on its way in: kept on disk, checked, shown, confirmed, loaded, with its progress.

A short upload is worked on at once, a long one by a background worker. The state is a file beside the upload, not a
row: a load is one transaction, and nothing written in it can be read before it ends.
"""

from __future__ import annotations

import json
import shutil
import time
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any
from uuid import UUID, uuid4

from django.conf import settings
from django.core.files.uploadedfile import UploadedFile
from django.db import transaction
from django_tasks import task

from takeoff.people.models import User
from takeoff.sheets.cells.problems import show_cell
from takeoff.sheets.files.sources import Sheet, SourceError, read_file
from takeoff.sheets.preview import LoadResult
from takeoff.sheets.services import load_sheets
from takeoff.sites.models import Site
from takeoff.units.shown import written_as_in

AT_ONCE = 3_000  # rows that are worked on while the person waits
KEPT_DAYS = 2
MOST_FILES = 40
MOST_SHOWN = 200  # problems, changes of a table, rows
TELL_EVERY = 0.4  # seconds

WORKING, CHECKED, REFUSED, LOADED, FAILED = "working", "checked", "refused", "loaded", "failed"


@dataclass(slots=True)
class Upload:
    """
    An upload and how far it is. done, total : steps of the work going on.

    result : what the check or the load said, as `told` puts it. again : a load was not made, because it would do other
    things than the check said.
    """

    token: str
    site: str
    user: int
    names: list[str]
    rows: int
    state: str = WORKING
    loading: bool = False
    done: int = 0
    total: int = 0
    result: dict[str, Any] = field(default_factory=dict)
    again: bool = False


def keep(*, site: Site, user: User, files: Sequence[UploadedFile]) -> Upload:
    """Keep uploaded files until they are loaded. Raises SourceError when one cannot be read."""
    _forget_old()
    if len(files) > MOST_FILES:
        raise SourceError(f"these are more than {MOST_FILES} files: load them in parts")
    upload = Upload(str(uuid4()), site.slug, user.pk, [Path(file.name or "").name for file in files], 0)
    folder = _folder(upload.token)
    folder.mkdir(parents=True)
    try:
        for number, file in enumerate(files):
            with (folder / _kept_name(number, upload.names[number])).open("wb") as target:
                shutil.copyfileobj(file, target)
        upload.rows = sum(len(sheet.rows) for sheet in _sheets(upload))
    except Exception:
        shutil.rmtree(folder, ignore_errors=True)
        raise
    _write(upload)
    return upload


def find(*, site: Site, user: User, token: UUID) -> Upload | None:
    """Return an upload that this person made for this site, or None."""
    upload = _read(str(token))
    return upload if upload and (upload.site, upload.user) == (site.slug, user.pk) else None


def set_to_work(upload: Upload, *, loading: bool) -> None:
    """Check an upload, or load it: now when it is short, else in the background."""
    upload.state, upload.loading, upload.done, upload.total = WORKING, loading, 0, 2 * upload.rows
    _write(upload)
    if upload.rows <= AT_ONCE:
        work_on(upload)
    else:
        work_in_background.enqueue(upload.token)


@task()
def work_in_background(token: str) -> str:
    """Do what is to be done with an upload; return the state that it is left in."""
    upload = _read(token)
    if upload is None or upload.state != WORKING:
        return "nothing to do"
    work_on(upload)
    return upload.state


def work_on(upload: Upload) -> None:
    """Load an upload, or do so and take it all back, and keep what was said; a failure is kept as well, and raised."""
    try:
        _work_on(upload)
    except Exception:
        upload.state = FAILED
        _write(upload)
        raise


def _work_on(upload: Upload) -> None:
    site = Site.objects.get(slug=upload.site)
    sheets = _sheets(upload)
    told = _Teller(upload)
    with transaction.atomic(), written_as_in(site.country):
        # Tried as confirmed: a check is taken back, and the page asks before it loads.
        user = User.objects.get(pk=upload.user)
        result = load_sheets(sheets=sheets, slug=site.slug, user=user, confirmed=True, progress=told)
        # As it comes back from where uploads are kept, so that two of them can be compared.
        said = json.loads(json.dumps(_told(result, sheets)))
        # Nobody confirmed what has come in between: it is looked at again first.
        upload.again = upload.loading and not result.problems and said != upload.result
        loads = upload.loading and not upload.again
        if not loads:
            transaction.set_rollback(True)
    upload.result = said
    upload.state = REFUSED if result.problems else LOADED if loads else CHECKED
    _write(upload)


class _Teller:
    """Writes the progress down, but not for every row."""

    def __init__(self, upload: Upload) -> None:
        self.upload = upload
        self.told_at = 0.0

    def __call__(self, done: int, total: int) -> None:
        """Keep how many of how many steps are done."""
        now = time.monotonic()
        if now - self.told_at >= TELL_EVERY:
            self.told_at = now
            self.upload.done, self.upload.total = done, total
            _write(self.upload)


def _told(result: LoadResult, sheets: Sequence[Sheet]) -> dict[str, Any]:
    """Return a result as the page shows it: counts, changes, problems with the rows that they stand in, cautions."""
    said = result.as_json()
    order = [sheet.name for sheet in sheets]
    problems = sorted(result.problems, key=lambda p: (order.index(p.sheet) if p.sheet in order else -1, p.row or 0))
    shown = problems[:MOST_SHOWN]
    bad: dict[tuple[str, int | None], set[str]] = {}
    for problem in shown:
        bad.setdefault((problem.sheet, problem.row), set()).add(problem.column)
    return {
        "touches": any(table.touched for table in result.tables),
        "tables": [
            {
                "name": table.name,
                "rows": table.rows,
                "counts": table.counts,
                "changes": [asdict(change) for change in table.changes[:MOST_SHOWN]],
                "more": max(0, len(table.changes) - MOST_SHOWN),
            }
            for table in result.tables
        ],
        "problem_count": len(problems),
        "problems": [asdict(problem) for problem in shown],
        "more_problems": len(problems) - len(shown),
        "cautions": said["cautions"][:MOST_SHOWN],
        "asks": bool(result.asked),
        "effects": {"moved": said["moved"], "lengths": said["lengths"], "touched": said["touched"]},
        "bad_rows": _bad_rows(sheets, bad),
    }


def _bad_rows(sheets: Iterable[Sheet], wanted: dict[tuple[str, int | None], set[str]]) -> list[dict[str, Any]]:
    """Return the rows that have a problem as they stand in the sheet, the cells in question marked."""
    found = []
    for sheet in sheets:
        for number, cells in sheet.rows:
            columns = wanted.get((sheet.name, number))
            if columns is None:
                continue
            plain = {column.casefold().replace("_", " ") for column in columns}
            found.append(
                {
                    "sheet": sheet.name,
                    "row": number,
                    "cells": [
                        {
                            "head": show_cell(head),
                            "text": show_cell(cells[index] if index < len(cells) else None),
                            "bad": show_cell(head).casefold().replace("_", " ").split(" (")[0] in plain,
                        }
                        for index, head in enumerate(sheet.header)
                    ],
                }
            )
    return found


def _sheets(upload: Upload) -> list[Sheet]:
    sheets: list[Sheet] = []
    for number, name in enumerate(upload.names):
        with (_folder(upload.token) / _kept_name(number, name)).open("rb") as file:
            sheets += read_file(file, name)
    return sheets


def _kept_name(number: int, name: str) -> str:
    # What a person calls a file decides nothing about where it lies.
    return f"{number}{Path(name).suffix.lower()[:6]}"


def _folder(token: str) -> Path:
    return Path(settings.MEDIA_ROOT) / "loads" / str(UUID(token))


def _write(upload: Upload) -> None:
    path = _folder(upload.token) / "state.json"
    unfinished = path.with_suffix(".part")
    unfinished.write_text(json.dumps(asdict(upload)), encoding="utf-8")
    unfinished.replace(path)


def _read(token: str) -> Upload | None:
    path = _folder(token) / "state.json"
    return Upload(**json.loads(path.read_text(encoding="utf-8"))) if path.is_file() else None


def _forget_old() -> None:
    """Delete uploads that nobody has looked after for days."""
    folder = Path(settings.MEDIA_ROOT) / "loads"
    oldest = time.time() - KEPT_DAYS * 24 * 3600
    for old in folder.iterdir() if folder.is_dir() else ():
        if old.stat().st_mtime < oldest:
            shutil.rmtree(old, ignore_errors=True)
