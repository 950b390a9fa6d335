"""
A batch of records on its way into the books: read, held against what is known, kept by the ledgers, stored.

A queue never asks: what happened is kept, with what a person should look at, or set aside whole until what it lacks is
there. A page asks first, and refuses what would be set aside. A sheet is kept whole or not at all.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from django.db import transaction
from django.utils import timezone

from takeoff.chain.services import link_soon
from takeoff.database.bulk import CHUNK, check_references_now, insert_rows
from takeoff.database.locks import in_turn, rehearsed
from takeoff.people.models import User
from takeoff.people.permissions import may
from takeoff.records import queries
from takeoff.records.answers import (
    ASIDE,
    KEPT,
    KNOWN,
    LOOK,
    REFUSED,
    Answer,
    known_again,
    question_of,
    refused,
    told_again,
)
from takeoff.records.asides import end_aside, refiled, subject_of, waiting_for
from takeoff.records.decoding import Sent, decode
from takeoff.records.models import AsideEnd, Record, SetAside
from takeoff.records.naming import find_reversed, put_things
from takeoff.records.record_kinds import Filing, RecordKind, keepers, kinds
from takeoff.records.reversals import ReversalsKind
from takeoff.records.row_hashes import hash_as_before, row_hash, written_row
from takeoff.records.terms.clocks import corrected, offset, offset_in_words
from takeoff.records.terms.errors import AskFirstError, MalformedError, OtherContentError, RecordError
from takeoff.sheets.context import LoadContext
from takeoff.sheets.table_kinds import Row
from takeoff.sites.models import Site


@dataclass(slots=True)
class Batch:
    """Records that are taken together, in one transaction."""

    site: Site
    sender: User | None
    received: datetime
    roles: frozenset[str] | None = None  # None: the caller has seen to it that the sender may
    device: str = ""
    clock: datetime | None = None
    follows: bool = True  # False: the caller brings up to date what follows from the records
    known: dict[str, Record] = field(default_factory=dict)
    filed_here: dict[str, Record] = field(default_factory=dict)
    locked_too: set[int] = field(default_factory=set)  # what waits aside and is tried with these records
    ahead: set[str] = field(default_factory=set)  # ids of records that are stored already

    def take_from_queue(self, sent: Sequence[Sent]) -> list[Answer]:
        """Keep, set aside or refuse each record."""
        decoded = decode(self.site, sent)
        answers: list[Answer | None] = []
        filings: dict[str, Filing] = {}
        of_ids: list[str] = []
        for one in decoded:
            of_ids.append(one.id)
            if one.row is None:
                answers.append(Answer(one.id, REFUSED, one.said, one.column))
                continue
            filing = self.filed(one.kind, one.row, one.sent)
            first = filings.setdefault(filing.id, filing)
            differs = first is not filing and first.hash != filing.hash
            answers.append(refused(_other_content(filing)) if differs else None)
        fresh = self.file(list(filings.values()))
        self.keep(fresh)
        slow = offset_in_words(offset(self.clock, self.received))
        for filing in fresh:
            if slow:
                filing.look.append(slow)
        self.write(fresh)
        done = {filing.id: self.answered(filing) for filing in filings.values()}
        again: set[str] = set()
        told = []
        for id_, answer in zip(of_ids, answers, strict=True):
            told.append(answer or (known_again(done[id_]) if id_ in again else done[id_]))
            again.add(id_)
        return told

    def keep_from_page(self, sent: Sequence[Sent], confirmed: str) -> list[Record | RecordError]:
        """
        Keep what a page sends, each record by itself; return it, or why it is not kept.

        Raises AskFirstError for what a person must look at first: then nothing is kept.
        """
        decoded = decode(self.site, sent)
        filings = [self.filed(one.kind, one.row, one.sent) if one.row else None for one in decoded]
        fresh = self.file([filing for filing in filings if filing])
        self.keep(fresh)
        kept = [filing for filing in fresh if not filing.error]
        look = [text for filing in kept for text in filing.look]
        if look and (question := question_of(look)) != confirmed:
            raise AskFirstError(tuple(look), question)
        self.write(kept)
        return [
            filing.error or self.known.get(filing.id, filing.record)
            if filing
            else MalformedError(one.said[0], column=one.column)
            for one, filing in zip(decoded, filings, strict=True)
        ]

    def keep_from_sheets(self, context: LoadContext, rows: Sequence[Row]) -> None:
        """Keep all rows of a load, or note why not."""
        filings: dict[str, Filing] = {}
        today = self.site.local_date(self.received)
        for row in rows:
            assert isinstance(row.table, RecordKind)
            filing = self.filed(row.table, row, Sent(row.table.name, row.raw))
            first = filings.setdefault(filing.id, filing)
            if first is not filing:
                where = f"{first.row.table.name}, row {first.row.number}"
                context.problem(row, "id", expected=f"an id of its own: {where} has it too")
            elif self.site.local_date(filing.at) > today:
                context.caution(row, "at", "is after today: what has not happened yet counts from that day")
        fresh = self.file(list(filings.values()), resolved=True)
        if not context.problems and not any(filing.error for filing in filings.values()):
            self.keep(fresh)
        for filing in filings.values():
            if filing.error:
                error = filing.error
                context.problem(filing.row, error.column, expected=error.expected, found=error.found or None)
            elif filing.id in self.known:
                context.count(filing.kind.name, "unchanged", filing.id)
            else:
                context.count(filing.kind.name, "new", filing.id)
                for text in filing.look:
                    context.caution(filing.row, filing.kind.looked_at, text)
        if not context.problems:
            self.write(fresh)

    def filed(self, kind: RecordKind, row: Row, sent: Sent) -> Filing:
        """Return a record on its way, as it will be stored; its row says names."""
        said = row.said or dict(row.values)
        row.said = said
        written = written_row(kind, said)
        at = corrected(said["at"], self.clock, self.received) if self.device or self.clock else said["at"]
        row.values["at"] = at
        record = Record(
            site=self.site,
            event_id=said["id"],
            kind=kind.name,
            row=written,
            row_hash=row_hash(kind.name, written),
            at=at,
            device=self.device,
            number=sent.number,
            after=list(sent.after),
            device_at=self.clock,
            recorded_at=self.received,
            recorded_by=self.sender,
        )
        return Filing(kind, row, record, sender=self.sender)

    def file(self, filings: Sequence[Filing], *, resolved: bool = False) -> list[Filing]:
        """
        Return the records that are not known yet, in the order in which they happened, locks taken.

        What is known with other content, and what cannot be kept for what it names, has its error.
        """
        if not resolved:
            put_things(self.site, self.sender, self.received, filings)
        self.find_reversed(filings)
        filings = sorted(filings, key=_when)
        if resolved and not rehearsed():
            self.write_ahead(filings)
        # What waits for these records is tried with them: locked at once, and so in the house's order.
        waiting = waiting_for(self.site, filings)
        self.locked_too = {aside.pk for aside in waiting}
        self.lock([*filings, *self.refiled(waiting)])
        # Only now nobody else can be keeping them.
        self.known |= self.records(filing.id for filing in filings if filing.id not in self.ahead)
        fresh = []
        for filing in filings:
            earlier = self.known.get(filing.id)
            if earlier is not None and earlier.kind != filing.kind.name and earlier.row is None:
                # Before records were kept, each ledger had ids of its own: of two alike, one got its kind before it.
                second = f"{filing.kind.name}/{filing.id}"
                earlier = self.known[filing.id] = self.records([second]).get(second, earlier)
            if earlier is None:
                fresh.append(filing)
                self.hold_against(filing)
            elif not _same(earlier, filing):
                filing.error = _other_content(filing)
            else:
                filing.error = None
        return fresh

    def find_reversed(self, filings: Sequence[Filing]) -> None:
        """Give each reversal the record that it takes back, one that is stored or one that came with it."""
        self.filed_here |= {filing.id: filing.record for filing in filings if filing.aside is None}
        wanted = [filing["reverses"] for filing in filings if isinstance(filing.kind, ReversalsKind)]
        find_reversed(filings, self.filed_here | self.records(wanted) if wanted else {})

    def hold_against(self, filing: Filing) -> None:
        """Refuse what hangs on a record that nobody knows, and what its sender may not do."""
        missing = [each for each in filing.record.after if each not in self.known and each not in self.filed_here]
        if missing and not filing.error:
            known = self.records(missing)
            missing = [each for each in missing if each not in known]
            if missing:
                filing.unready = True
                filing.error = RecordError(
                    f"It hangs on {missing[0]}, which has not come yet.", lacks=f"record {missing[0]}"
                )
        if self.roles is None:
            return
        kind = kinds()[filing.reverses.kind] if filing.reverses else filing.kind
        if not may(self.roles, kind.permission):
            filing.unready = True
            filing.error = RecordError(f"Who sent it may not {kind.permission.does}.")

    def keep(self, fresh: Sequence[Filing]) -> None:
        """Let each ledger keep its records, then try again what was aside and what has just been refused for a lack."""
        for filing in fresh:
            if filing.reverses and not filing.error:
                self.drop_reversed(filing)
        self.let_keep([filing for filing in fresh if not filing.error and not filing.settled])
        lacking = [filing for filing in fresh if filing.error and filing.error.lacks]
        waiting = waiting_for(self.site, fresh)
        there = [aside for aside in waiting if aside.pk in self.locked_too]
        if lacking or there:
            self.retry(lacking, there)
        if missed := {aside.pk for aside in waiting} - self.locked_too:
            self.retry_after(missed)

    def let_keep(self, filings: Sequence[Filing], *, again: bool = False) -> None:
        """Have each ledger keep what is its own."""
        for keeper in keepers():
            mine = [filing for filing in filings if filing.kind.keeper_of(filing) is keeper]
            if mine:
                keeper.keep(self.site, mine, again=again)
                if self.follows:
                    keeper.follow(self.site, [filing for filing in mine if not filing.error])

    def lock(self, filings: Sequence[Filing]) -> None:
        """Take the locks under which each ledger keeps its records."""
        by_keeper: dict[int, list[Filing]] = {}
        for filing in filings:
            if not filing.error:
                keeper = filing.kind.keeper_of(filing)
                by_keeper.setdefault(id(keeper.locked_by or keeper), []).append(filing)
        for keeper in keepers():
            if mine := by_keeper.get(id(keeper)):
                keeper.lock(self.site, mine)

    def drop_reversed(self, filing: Filing) -> None:
        """End a record that waits aside and is taken back: it will not be tried again."""
        assert filing.reverses is not None
        aside = SetAside.objects.of(self.site).filter(record__event_id=filing.reverses.event_id, end=None).first()
        if aside is not None:
            end_aside(aside, AsideEnd.How.DROPPED, self.sender, reason=filing["reason"])
            filing.settled = True

    def retry(self, lacking: list[Filing], there: list[SetAside]) -> None:
        """Try together what lacked something: new records and those that were aside; those that stay out keep why."""
        filings = self.refiled(there)
        tried = sorted((*lacking, *filings), key=_when)
        why = {filing.id: filing.error for filing in tried}
        with transaction.atomic():
            self.lock(filings)  # held by now, unless they are tried by themselves
            ended = set(AsideEnd.objects.of(self.site).filter(set_aside__in=there).values_list("set_aside", flat=True))
            tried = [each for each in tried if each.aside is None or each.aside.pk not in ended]
            placeable = [each for each in tried if not each.unready]
            for filing in placeable:
                filing.error, filing.look = None, []
            self.let_keep(placeable, again=True)
        for filing in tried:
            filing.error = filing.error and (why[filing.id] or filing.error)
        insert_rows(
            [
                AsideEnd(
                    set_aside=filing.aside,
                    how=AsideEnd.How.RETRIED,
                    said=filing.look,
                    recorded_at=self.received,
                    recorded_by=self.sender,
                )
                for filing in tried
                if filing.aside and not filing.error
            ]
        )

    def retry_after(self, missed: set[int]) -> None:
        """Try by itself, once these records are in the books, what others set aside since the locks were taken."""

        def retry() -> None:
            batch = Batch(self.site, self.sender, timezone.now())
            batch.retry([], list(queries.waiting(self.site).filter(pk__in=missed)))

        # Now its locks would be out of order. What fails is told in the log, and tried again with the next record.
        transaction.on_commit(lambda: in_turn(retry), robust=True)

    def refiled(self, asides: Sequence[SetAside]) -> list[Filing]:
        """Return records that wait aside as ones on their way again, things in place of names where they are known."""
        filings = [refiled(self.site, aside) for aside in asides]
        if filings:
            put_things(self.site, self.sender, self.received, filings)
            self.find_reversed(filings)
        return filings

    def write_ahead(self, filings: Sequence[Filing]) -> None:
        """
        Store the records of sheets that nobody will have to look at, before anybody must wait for the locks.

        A sheet is kept whole or not at all, so that they are kept, or taken back with it. Who keeps one of them at the
        same moment meets the database's own rule of one record for each id, and begins anew.
        """
        sure = [filing for filing in filings if not filing.error and not filing.kind.may_need_a_look]
        known = self.records(filing.id for filing in sure)
        records = [filing.record for filing in sure if filing.id not in known]
        for record in records:
            record.answer = KEPT
        insert_rows(records)
        self.ahead = {record.event_id for record in records}
        for keeper in keepers():
            mine = [each for each in sure if each.id in self.ahead and each.kind.keeper_of(each) is keeper]
            keeper.prepare(self.site, mine)
        check_references_now()

    def write(self, fresh: Sequence[Filing]) -> None:
        """Store the records with their answers, those left out that are stored already."""
        assert not any(filing.look for filing in fresh if filing.id in self.ahead)  # its kind would have to say so
        fresh = [filing for filing in fresh if filing.id not in self.ahead]
        stored = [filing for filing in fresh if not (filing.error and filing.error.malformed)]
        for filing in stored:
            filing.record.answer = ASIDE if filing.error else LOOK if filing.look else KEPT
            filing.record.said = [str(filing.error)] if filing.error else filing.look
        insert_rows([filing.record for filing in stored])
        insert_rows(
            [
                SetAside(
                    record=filing.record,
                    subject=subject_of(filing),
                    lacks=filing.error.lacks,
                    reason=str(filing.error)[:1000],
                )
                for filing in stored
                if filing.error
            ]
        )
        link_soon(self.site)

    def answered(self, filing: Filing) -> Answer:
        """Return the answer to a record of a queue."""
        earlier = self.known.get(filing.id)
        if filing.error and filing.error.malformed:
            return Answer(filing.id, REFUSED, (str(filing.error),), filing.error.column)
        if earlier is not None:
            return Answer(filing.id, KNOWN, told_again(earlier))
        column = filing.error.column if filing.error else ""
        return Answer(filing.id, filing.record.answer, tuple(filing.record.said), column)

    def records(self, ids: Iterable[str]) -> dict[str, Record]:
        """Return the site's records of these ids, with what became of those that were set aside."""
        wanted = list(dict.fromkeys(ids))
        rows = Record.objects.of(self.site).select_related("set_aside__end__placed_by")
        return {
            record.event_id: record
            for start in range(0, len(wanted), CHUNK)
            for record in rows.filter(event_id__in=wanted[start : start + CHUNK])
        }


def _same(earlier: Record, filing: Filing) -> bool:
    """Return whether a record says what was kept under its id; by the old rule where that is older than records."""
    if earlier.kind != filing.kind.name:
        return False
    if earlier.row is None:
        return earlier.row_hash == hash_as_before(filing.kind.name, filing.row.said)
    return earlier.row_hash == filing.hash


def _other_content(filing: Filing) -> OtherContentError:
    return OtherContentError(
        f"{filing.id} was reported before and says something else: {filing.kind.correction}.",
        column="id",
        found=filing.id,
        expected=f"what was reported under this id, unchanged; to correct it, {filing.kind.correction}",
    )


def _when(filing: Filing) -> tuple[datetime, int, int, str]:
    """Return what orders records: the moment, the rank of the kind, the device's own order, the id."""
    return filing.at, filing.kind.rank, filing.record.number or 0, filing.id
