"""Every write of rule books and takeoffs: publish, refresh, overrule."""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Mapping, Sequence, Set
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction

from django.db import transaction
from django.utils import timezone

from takeoff.catalogue.models import Cable, Item
from takeoff.chain.services import link_soon
from takeoff.database.bulk import rewrite
from takeoff.database.locks import lock
from takeoff.people.models import User
from takeoff.rules import queries
from takeoff.rules.engine.book import Book, NotPublishableError
from takeoff.rules.engine.book_checks import check_book
from takeoff.rules.engine.quantities import Line, RunTakeoff, take_off
from takeoff.rules.engine.rows import RuleRow
from takeoff.rules.engine.settle import Key, Settled, settle
from takeoff.rules.models import Override, Rule, RuleBook, Takeoff, TakeoffLine
from takeoff.runs.geometry.cut_lengths import conductor_lengths
from takeoff.runs.geometry.facts import RunFacts
from takeoff.runs.geometry.warnings import notices
from takeoff.runs.models import Conductor, Run
from takeoff.runs.queries import facts_of
from takeoff.sites.models import Site
from takeoff.units.exact import from_ticks
from takeoff.units.shown import written_as_in


@transaction.atomic
def publish(*, site: Site, rows: Sequence[RuleRow], user: User | None = None) -> RuleBook:
    """
    Publish a rule book and return it; the current one, when nothing differs from it.

    Takeoffs are rewritten by `refresh_takeoffs`, which the caller owes. Raises NotPublishableError with every problem.
    """
    lock(Site.objects.filter(pk=site.pk))
    digest = queries.digest_of(rows)
    current = queries.current_book(site)
    if current is not None and current.content_hash == digest:
        return current
    refused = [problem for problem in check_book(rows, queries.item_facts(site), unit=site.unit) if problem.refused]
    if refused:
        raise NotPublishableError(refused)
    book = RuleBook.objects.create(
        site=site,
        version=current.version + 1 if current else 1,
        published_at=timezone.now(),
        published_by=user,
        content_hash=digest,
    )
    items = dict(Item.objects.of(site).values_list("code", "pk"))
    Rule.objects.bulk_create(_rule(book, seq, row, items) for seq, row in enumerate(rows, start=1))
    link_soon(site)
    return book


def _rule(book: RuleBook, seq: int, row: RuleRow, items: Mapping[str, int]) -> Rule:
    exact = {name: None if (value := getattr(row, name)) is None else from_ticks(value) for name in queries.EXACT}
    plain = {name: getattr(row, name) for name in queries.PLAIN}
    return Rule(book=book, seq=seq, item_id=items[row.item], **exact, **plain)


@dataclass(slots=True)
class Refreshed:
    """
    What a refresh changed.

    lengths : by (run, before, after) [mm], the conductors that are cut differently. lines : by (run, item, stage), the
    quantity before and after. ended : items that were needed and are needed nowhere now, with what was needed.
    """

    lengths: dict[tuple[str, Decimal, Decimal], list[str]] = field(default_factory=dict)
    lines: dict[tuple[str, str, str], tuple[Decimal, Decimal]] = field(default_factory=dict)
    ended: dict[str, Decimal] = field(default_factory=dict)


@transaction.atomic
def refresh_takeoffs(*, site: Site) -> Refreshed:
    """
    Rewrite the takeoffs and conductor lengths of the runs whose inputs changed, settle the whole site, say what moved.

    Without a rule book only items of sections and what a planner sets count. Raises NotPublishableError when items
    changed so that the current book no longer fits them.
    """
    lock(Site.objects.filter(pk=site.pk))
    facts = facts_of(site)
    found = Refreshed()
    _write_lengths(site, facts, found)
    record = queries.current_book(site)
    items = queries.item_facts(site)
    book = queries.compiled(queries.rows_of(record) if record else (), items)
    known = _digest(sorted(map(str, items.values())))
    existing = {takeoff.run_id: takeoff for takeoff in Takeoff.objects.of(site)}
    hashes = {run_id: _digest([record.pk if record else None, known, site.code, run]) for run_id, run in facts.items()}
    changed = {
        run_id: run
        for run_id, run in facts.items()
        if run_id not in existing or existing[run_id].inputs_hash != hashes[run_id]
    }
    now, drawn = _exact_lines(site, book, without={run.name for run in changed.values()})
    for run in changed.values():
        now[run.name] = take_off(run, book)
        drawn[run.name] = take_off(run.as_drawn(), book)
    _write_takeoffs(site, record, changed, existing, hashes, now)
    _write_lines(site, now, drawn, found)
    return found


@transaction.atomic
def settle_takeoffs(*, site: Site) -> None:
    """Settle the takeoffs of a site again, as after an override or a changed date: rounding, shares, what counts."""
    lock(Site.objects.filter(pk=site.pk))
    record = queries.current_book(site)
    book = queries.compiled(queries.rows_of(record) if record else (), queries.item_facts(site))
    _write_lines(site, *_exact_lines(site, book, without=set()))


@transaction.atomic
def overrule(*, run: Run, item: Item, stage: str, quantity: Decimal, reason: str, by: User | None = None) -> Override:
    """
    Set the quantity of an item that the drawing package gives for a stage of a run, and say why.

    Raises ValidationError for a negative or inexact quantity or no reason.
    """
    lock(Site.objects.filter(pk=run.site_id))
    override = run.overrides.filter(item=item, stage=stage).first() or Override(run=run, item=item, stage=stage)
    override.quantity = quantity
    override.reason = reason.strip()
    override.by = by
    override.at = timezone.now()
    override.full_clean(validate_unique=False, validate_constraints=True)
    override.save()
    settle_takeoffs(site=run.site)
    return override


@transaction.atomic
def withdraw_override(*, override: Override) -> None:
    """Let the computed quantity count again."""
    site = override.run.site
    override.delete()
    settle_takeoffs(site=site)


def _write_lengths(site: Site, facts: Mapping[int, RunFacts], found: Refreshed) -> None:
    """Bring the conductors of a site to the lengths that they need now, touching only those that differ."""
    cables = dict(Cable.objects.of(site).values_list("code", "pk"))
    conductors = {(conductor.run_id, conductor.name): conductor for conductor in Conductor.objects.of(site)}
    changed = []
    for run_id, run in facts.items():
        for needed in conductor_lengths(run):
            conductor = conductors[run_id, needed.name]
            cable = cables[needed.cable.code] if needed.cable else None
            # What is not told is not taken as zero: such a run has no cut length.
            known = (0, 0) if run.untold else (needed.length, needed.least_length)
            figures = cable, from_ticks(known[0]), from_ticks(known[1])
            if figures != (conductor.cable_id, conductor.length, conductor.least_length):
                if figures[1] != conductor.length:
                    found.lengths.setdefault((run.name, conductor.length, figures[1]), []).append(needed.name)
                conductor.cable_id, conductor.length, conductor.least_length = figures
                changed.append(conductor)
    rewrite(Conductor.objects.of(site), changed, ["cable", "length", "least_length"])


def _exact_lines(site: Site, book: Book, *, without: set[str]) -> tuple[dict[str, RunTakeoff], dict[str, RunTakeoff]]:
    """Return the stored exact takeoffs by run, as they are and as drawn, leaving out runs that are computed anew."""
    now: dict[str, list[Line]] = {}
    drawn: dict[str, list[Line]] = {}
    for line in queries.takeoff_lines(site):
        name, item = line.takeoff.run.name, line.item
        if name in without:
            continue
        for lines, exact in ((now, line.exact), (drawn, line.exact_drawn)):
            if exact:  # a line that only an override made has nothing computed
                by_site = book.rounds_by_site(item.code)
                lines.setdefault(name, []).append(Line(item.code, line.stage, exact, by_site, item.fitted))
    return (
        {name: RunTakeoff(name, tuple(lines)) for name, lines in now.items()},
        {name: RunTakeoff(name, tuple(lines)) for name, lines in drawn.items()},
    )


def _write_takeoffs(
    site: Site,
    record: RuleBook | None,
    changed: Mapping[int, RunFacts],
    existing: Mapping[int, Takeoff],
    hashes: Mapping[int, str],
    now: Mapping[str, RunTakeoff],
) -> None:
    """Create or rewrite the takeoff of each changed run."""
    moment = timezone.now()
    made: list[Takeoff] = []
    rewritten: list[Takeoff] = []
    for run_id, run in changed.items():
        takeoff = existing.get(run_id) or Takeoff(run_id=run_id)
        (made if takeoff.pk is None else rewritten).append(takeoff)
        takeoff.book = record
        takeoff.inputs_hash = hashes[run_id]
        takeoff.computed_at = moment
        with written_as_in(site.country):
            against = [str(notice) for notice in notices(run, code=site.code, unit=site.unit)]
        takeoff.warnings = [*now[run.name].warnings, *against]
    Takeoff.objects.bulk_create(made)
    rewrite(Takeoff.objects.of(site), rewritten, ["book", "inputs_hash", "computed_at", "warnings"])


def _write_lines(
    site: Site, now: Mapping[str, RunTakeoff], drawn: Mapping[str, RunTakeoff], found: Refreshed | None = None
) -> None:
    """Bring the lines of a site to what counts, touching only those that differ."""
    dates, set_by_drawing = queries.planned_dates(site), queries.overrides(site)
    settled, settled_drawn = settle(now, dates, set_by_drawing), settle(drawn, dates, set_by_drawing)
    nothing = Settled(Fraction(0), 0, 0)
    wanted: dict[Key, tuple[Fraction, Fraction, Decimal, Decimal, Decimal]] = {}
    for key in {**settled, **settled_drawn}:
        new, old = settled.get(key, nothing), settled_drawn.get(key, nothing)
        figures = from_ticks(new.computed), from_ticks(new.quantity), from_ticks(old.quantity)
        wanted[key] = (new.exact, old.exact, *figures)
    names = ("exact", "exact_drawn", "computed", "quantity", "drawn")
    if found is None:
        found = Refreshed()
    updated, gone = [], []
    totals: dict[str, list[Decimal]] = defaultdict(lambda: [Decimal(0), Decimal(0)])
    for key, figures_wanted in wanted.items():
        totals[key.item][1] += figures_wanted[3]
    for line in queries.takeoff_lines(site):
        key = Key(line.takeoff.run.name, line.item.code, line.stage)
        figures_now = wanted.pop(key, None)
        totals[key.item][0] += line.quantity
        after = figures_now[3] if figures_now else Decimal(0)
        if after != line.quantity:
            found.lines[key.run, key.item, key.stage] = line.quantity, after
        if figures_now is None:
            gone.append(line.pk)
        elif figures_now != tuple(getattr(line, name) for name in names):
            for name, value in zip(names, figures_now, strict=True):
                setattr(line, name, value)
            updated.append(line)
    TakeoffLine.objects.of(site).filter(pk__in=gone).delete()
    rewrite(TakeoffLine.objects.of(site), updated, names)
    for key, figures_made in wanted.items():
        if figures_made[3]:
            found.lines[key.run, key.item, key.stage] = Decimal(0), figures_made[3]
    found.ended = {item: before for item, (before, after) in totals.items() if before and not after}
    takeoffs = _takeoffs_of(site, {key.run for key in wanted})
    items = dict(Item.objects.of(site).values_list("code", "pk"))
    TakeoffLine.objects.bulk_create(
        (
            TakeoffLine(
                takeoff_id=takeoffs[key.run],
                item_id=items[key.item],
                stage=key.stage,
                **dict(zip(names, figures_new, strict=True)),
            )
            for key, figures_new in wanted.items()
        ),
        batch_size=1000,
    )


def _takeoffs_of(site: Site, names: Set[str]) -> dict[str, int]:
    """Return the takeoffs of a site by run, made for the runs named that have none: the next refresh fills them in."""
    takeoffs = dict(Takeoff.objects.of(site).values_list("run__name", "pk"))
    if bare := names - takeoffs.keys():
        runs = Run.objects.of(site).filter(name__in=bare)
        made = [Takeoff(run=run, inputs_hash="", computed_at=timezone.now()) for run in runs]
        takeoffs |= {takeoff.run.name: takeoff.pk for takeoff in Takeoff.objects.bulk_create(made)}
    return takeoffs


def _digest(content: object) -> str:
    return hashlib.sha256(repr(content).encode()).hexdigest()
