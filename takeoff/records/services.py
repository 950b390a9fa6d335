"""The door: records from phones, pages and sheets, kept, set aside or refused, each once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from functools import partial
from typing import Any

from django.db import transaction
from django.utils import timezone

from takeoff.chain.services import link_soon
from takeoff.database.locks import in_turn
from takeoff.people.models import User
from takeoff.people.permissions import PLAN, may
from takeoff.records import queries
from takeoff.records.answers import Answer
from takeoff.records.asides import end_aside
from takeoff.records.batch import Batch
from takeoff.records.decoding import Sent
from takeoff.records.models import AsideEnd, Record, SetAside
from takeoff.records.record_kinds import kinds
from takeoff.records.terms.errors import OtherContentError, RecordError
from takeoff.sheets.context import LoadContext
from takeoff.sheets.registry import register_event_door, register_follower
from takeoff.sheets.table_kinds import Row
from takeoff.sites.models import Site

MOST_AN_HOUR = 10_000  # records of one member


class TooManyError(Exception):
    """A member sent more records within an hour than people can have made."""


def take(
    *,
    site: Site,
    sender: User,
    roles: frozenset[str],
    sent: Sequence[Sent],
    device: str = "",
    clock: datetime | None = None,
) -> list[Answer]:
    """
    Take what a device's queue sends, each record on its own, and answer in the same order.

    clock : what the device's clock showed at sending. Raises TooManyError.
    """
    received = timezone.now()
    recent = Record.objects.of(site).filter(recorded_by=sender, recorded_at__gte=received - timedelta(hours=1))
    if recent.count() + len(sent) > MOST_AN_HOUR:
        raise TooManyError

    def taken(part: Sequence[Sent]) -> list[Answer]:
        batch = partial(Batch, site, sender, received, roles=roles, device=device, clock=clock)
        return in_turn(lambda: batch().take_from_queue(part)) if part else []

    # What others name comes first, so that they find it.
    founds = [one.kind in kinds() and bool(kinds()[one.kind].founds) for one in sent]
    first = iter(taken([one for one, makes in zip(sent, founds, strict=True) if makes]))
    others = iter(taken([one for one, makes in zip(sent, founds, strict=True) if not makes]))
    return [next(first if makes else others) for makes in founds]


def keep_one(
    *, site: Site, kind: str, row: Mapping[str, Any], sender: User | None = None, confirmed: str = ""
) -> Record:
    """
    Keep one record, or raise the RecordError that refuses it.

    row : its cells. confirmed : the hash of the question that the person has seen and said yes to. Raises AskFirstError
    for what a person must look at first. The caller has seen to it that the sender may.
    """

    def keep() -> Record:
        (kept,) = Batch(site, sender, timezone.now()).keep_from_page([Sent(kind, row)], confirmed)
        if isinstance(kept, RecordError):
            raise kept
        return kept

    return in_turn(keep)


def keep_each(
    *,
    site: Site,
    kind: str,
    rows: Sequence[Mapping[str, Any]],
    sender: User,
    roles: frozenset[str],
    confirmed: str = "",
) -> list[Record | RecordError]:
    """
    Keep what a page sends, each record by itself, and return it or why it is not kept.

    A record is of now where its cells name no moment; one that was kept before keeps the moment that it has.
    Raises AskFirstError as `keep_one` does: then nothing is kept.
    """
    now = timezone.now()

    def keep() -> list[Record | RecordError]:
        batch = Batch(site, sender, now, roles=roles)
        before = batch.records(str(row.get("id", "")) for row in rows)
        moments = {id_: record.row["at"] for id_, record in before.items() if record.row}
        sent = [Sent(kind, {"at": moments.get(str(row.get("id")), now), **row}) for row in rows]
        return batch.keep_from_page(sent, confirmed)

    kept = in_turn(keep)
    # Pressed twice at once, the second sees only now at what moment the first was kept.
    return in_turn(keep) if any(isinstance(one, OtherContentError) for one in kept) else kept


@transaction.atomic
def replace_aside(
    *, site: Site, aside: SetAside, kind: str, row: Mapping[str, Any], sender: User, confirmed: str = ""
) -> Record:
    """Put a record in the place of one that was set aside, which ends with it. Raises RecordError."""
    record = keep_one(site=site, kind=kind, row=row, sender=sender, confirmed=confirmed)
    end_aside(aside, AsideEnd.How.PLACED, sender, placed_by=record)
    return record


@transaction.atomic
def drop_aside(*, site: Site, aside: SetAside, reason: str, sender: User) -> AsideEnd:
    """Say that a record that was set aside will never be in the books, and why. Raises RecordError."""
    if not reason.strip():
        raise RecordError("Say why it is dropped.", column="reason", expected="a reason")
    link_soon(site)
    return end_aside(aside, AsideEnd.How.DROPPED, sender, reason=reason.strip())


def may_settle(roles: frozenset[str], aside: SetAside) -> bool:
    """Return whether one of `roles` may place or drop a record that was set aside: a planner, or who owns its kind."""
    return may(roles, PLAN) or may(roles, kinds()[aside.record.kind].permission)


def keep_rows(context: LoadContext, rows: Sequence[Row], *, follows: bool = True) -> None:
    """
    Keep the events of a load in the order in which they happened; a problem or caution goes to the context.

    follows : whether takeoffs and the like are brought up to date with them; not, where the load does so afterwards.
    """
    Batch(context.site, context.user, context.now, follows=follows).keep_from_sheets(context, rows)


def try_again(context: LoadContext) -> None:
    """Try what was set aside for want of something that a load may have brought."""
    lacking = queries.waiting(context.site).exclude(lacks__in=["", "stock"])
    Batch(context.site, context.user, context.now).retry([], list(lacking))


register_event_door(keep_rows)
register_follower(tables={"items", "runs", "shipments", "reels", "conductors", "kits"}, follow=try_again)
