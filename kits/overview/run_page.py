"""What the page of one run shows: its drawing, lengths, takeoff, kits, cable and readiness, read from all floors."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from django.db.models import Sum

from kits.issuing.needs import handed_out_of
from kits.overview.today import AskedStage, asked_stages, questions, remarks
from kits.promises.models import Kit, KitLine
from kits.shortages.queries import reconcile
from kits.shortages.reckon.arrivals import StageLine, stage_lines
from kits.shortages.told.of_stage import verdict_in_words
from reels.ledger.entries import ConductorEntry
from reels.ledger.marks.alike import SetComparison
from reels.ledger.queries import compare_conductors, conductor_entries, set_name
from takeoff.catalogue.models import Item
from takeoff.rules import queries as rules
from takeoff.rules.engine.book import Book, NotPublishableError
from takeoff.rules.engine.rule import RunKind
from takeoff.rules.engine.steps import WorkingStep, steps
from takeoff.rules.models import Override, Takeoff, TakeoffLine
from takeoff.runs.geometry.cross_section import CrossSection, draw_cross_section
from takeoff.runs.geometry.facts import RunFacts
from takeoff.runs.geometry.length_steps import LengthSteps, length_steps
from takeoff.runs.geometry.strip import Repeat, Strip, draw_strip
from takeoff.runs.geometry.warnings import RunWarning, unequal_set
from takeoff.runs.models import Conductor, Measurement, Run, Stage
from takeoff.runs.queries import counting, run_facts, runs_with_parts
from takeoff.sites.models import Site, StageName
from takeoff.units.exact import from_ticks, to_ticks


@dataclass(frozen=True, slots=True)
class TakeoffRow:
    """
    A line of a run's takeoff as its page shows it.

    promised : by the run's kits over all stages, None when no kit of the run names the item; `all_stages` is what the
    run needs over all stages, to hold against it. told_at : the stage whose row of the item says so, "" for this one.
    """

    line: TakeoffLine
    override: Override | None
    handed_out: Decimal
    promised: Decimal | None
    all_stages: Decimal
    told_at: str

    @property
    def item(self) -> Item:
        """The item of the line."""
        return self.line.item

    @property
    def differs(self) -> Decimal:
        """How much more than needed was promised; negative when less."""
        return (self.promised or Decimal(0)) - self.all_stages


@dataclass(frozen=True, slots=True)
class CableSet:
    """
    The conductors of one set: how many are cut, what each must be, and which are too short for now.

    alike : how equal the cut ones are, None below two. unequal : what stands against them when they are not.
    """

    name: str
    cable: str
    length: int
    entries: tuple[ConductorEntry, ...]
    alike: SetComparison | None
    unequal: RunWarning | None

    @property
    def cut(self) -> int:
        """How many need no more cable."""
        return sum(entry.is_cut for entry in self.entries)

    @property
    def short(self) -> list[ConductorEntry]:
        """Those that were cut too short and not accepted."""
        return [entry for entry in self.entries if entry.cuts and not entry.is_cut]


@dataclass(frozen=True, slots=True)
class StageRow:
    """A stage: what of it is here, the day on which it was done, and what does not fit together about it."""

    line: StageLine
    done: date | None
    remark: str


@dataclass(frozen=True, slots=True)
class RunPage:
    """
    All that the page of one run shows.

    verdict : whether it can be finished with what is here, in sentences. use : its finished stages whose use nobody has
    told. measurements : its lengths as built, newest
    first, each with whether it counts now.
    """

    run: Run
    verdict: tuple[str, ...]
    facts: RunFacts
    strip: Strip | None
    section: CrossSection | None
    sets: tuple[CableSet, ...]
    lengths: LengthSteps | None
    takeoff: Takeoff | None
    stages: tuple[tuple[str, str, list[TakeoffRow]], ...]
    kits: tuple[Kit, ...]
    readiness: tuple[StageRow, ...]
    use: tuple[AskedStage, ...]
    measurements: tuple[tuple[Measurement, bool], ...]
    as_of: date

    @property
    def measured(self) -> bool:
        """Whether a length as built counts anywhere on the run."""
        return self.facts != self.facts.as_drawn()

    @property
    def cable_cut(self) -> bool:
        """Whether cable for the run came off any reel."""
        return any(entry.cuts for one in self.sets for entry in one.entries)

    @property
    def lacking(self) -> list[StageLine]:
        """The stages that something is missing for."""
        return [stage.line for stage in self.readiness if stage.line.lacks]

    @property
    def next_stage(self) -> str:
        """The first stage that is not done and needs something; the first of all when everything is done."""
        still_open = {stage.line.row.stage for stage in self.readiness if not stage.line.row.done}
        names = [name for name, _, _ in self.stages]
        return next((name for name in names if name in still_open), names[0] if names else "")


@dataclass(frozen=True, slots=True)
class LinePage:
    """One line of a takeoff with its working."""

    run: Run
    line: TakeoffLine
    steps: list[WorkingStep]
    override: Override | None
    rounded_by_site: bool
    promised: list[KitLine] = field(default_factory=list)


def run_ids(site: Site) -> dict[str, int]:
    """Return the key of every run by its name, for links."""
    return dict(Run.objects.of(site).values_list("name", "pk"))


def find_run(site: Site, run_id: int) -> Run | None:
    """Return a run of the site with its parts, or None."""
    return runs_with_parts(site).filter(pk=run_id).first()


def run_page(site: Site, run: Run, conductor: str = "") -> RunPage:
    """Return what the page of `run` shows; `conductor` is the one whose length is worked out."""
    facts = run_facts(run)
    book = _book(site)
    entries = conductor_entries(site, conductors=Conductor.objects.of(site).filter(run=run))
    named = [entry.conductor.name for entry in entries]
    chosen = conductor if conductor in named else next(iter(named), "")
    result = reconcile(site)
    stages = _stages(site, run)
    reported = list(run.stages.all())
    done = {row.stage: site.local_date(row.done) for row in reported if row.done}
    remarked = _remarks(reported, entries, needed={name for name, _, _ in stages})
    measured = list(Measurement.objects.of(site).filter(run=run).select_related("by").order_by("-at", "-pk"))
    counts = counting(measured)
    lines = [line for line in stage_lines(result.readiness, result.lines) if line.row.run_id == run.pk]
    return RunPage(
        run=run,
        verdict=verdict_in_words(lines, site.unit),
        facts=facts,
        strip=draw_strip(facts, _repeats(site, facts, book), unit=site.unit),
        section=draw_cross_section(facts),
        sets=_sets(site, entries),
        lengths=length_steps(facts, chosen, unit=site.unit, code=site.code) if chosen else None,
        takeoff=Takeoff.objects.of(site).filter(run=run).select_related("book").first(),
        stages=stages,
        kits=tuple(run.kits.order_by("name")),
        readiness=tuple(StageRow(line, done.get(line.row.stage), remarked.get(line.row.stage, "")) for line in lines),
        use=tuple(one for one in asked_stages(result.lines) if one.run_id == run.pk),
        measurements=tuple((row, row.pk in counts) for row in measured),
        as_of=result.as_of,
    )


def stage_remark(site: Site, run: Run, stage: str) -> str:
    """Return what does not fit together about a stage that was reported, "" when nothing."""
    entries = conductor_entries(site, conductors=Conductor.objects.of(site).filter(run=run))
    return _remarks(list(run.stages.all()), entries, needed={stage}).get(stage, "")


def stage_questions(site: Site, run: Run, stage: str) -> tuple[str, ...]:
    """Return what is to be asked before a stage is reported as done."""
    entries = conductor_entries(site, conductors=Conductor.objects.of(site).filter(run=run))
    planned = rules.takeoff_lines(site).filter(takeoff__run=run, quantity__gt=0).order_by()
    needed = {stage, *planned.values_list("stage", flat=True)}
    in_order, uncut, conductors = _standing(list(run.stages.all()), entries, needed=needed)
    return questions(stage, in_order, uncut=uncut, conductors=conductors)


def line_page(site: Site, run: Run, line_id: int) -> LinePage | None:
    """Return a line of the run's takeoff with its working, or None."""
    line = rules.takeoff_lines(site).filter(pk=line_id, takeoff__run=run).first()
    if line is None:
        return None
    book = _book(site)
    worked = steps(run_facts(run), book, line.item.code, line.stage, unit=site.unit) if book else []
    return LinePage(
        run=run,
        line=line,
        steps=worked,
        override=run.overrides.filter(item=line.item, stage=line.stage).select_related("by").first(),
        rounded_by_site=book is not None and book.rounds_by_site(line.item.code),
        promised=list(KitLine.objects.of(site).filter(kit__run=run, item=line.item).select_related("kit")),
    )


def _book(site: Site) -> Book | None:
    """Return the current rule book made ready; None without one, or when the items no longer fit it."""
    record = rules.current_book(site)
    if record is None:
        return None
    try:
        return rules.compiled(rules.rows_of(record), rules.item_facts(site))
    except NotPublishableError:
        return None


def _repeats(site: Site, facts: RunFacts, book: Book | None) -> list[Repeat]:
    """Return what stands at even distances along the enclosure, one for each way of spacing, named by its item."""
    if book is None:
        return []
    found: dict[tuple[object, ...], tuple[str, Repeat]] = {}
    for tally, applying in book.for_kind(RunKind.of(facts)).items():
        rule = next((rule for rule in applying if rule.stage == StageName.ENCLOSURE.value), None)
        if rule is None or tally.measure != "spaced" or tally.counted_on not in {"run", "section", "straight"}:
            continue
        kinds = frozenset({"straight"}) if tally.counted_on == "straight" else tally.kinds
        repeat = Repeat(
            rule.item.code, tally.spacing, tally.end_offset, tally.counted_on == "run", lies=tally.lies, kinds=kinds
        )
        found.setdefault(
            (tally.spacing, tally.end_offset, tally.counted_on, kinds, tally.lies), (rule.item.code, repeat)
        )
    names = dict(
        Item.objects.of(site).filter(code__in=[code for code, _ in found.values()]).values_list("code", "description")
    )
    return [
        Repeat(names[code], one.spacing, one.end_offset, one.along_run, one.lies, one.kinds)
        for code, one in found.values()
    ]


def _sets(site: Site, entries: tuple[ConductorEntry, ...]) -> tuple[CableSet, ...]:
    compared = {name: alike for (_run, name), alike in compare_conductors(site, entries).items()}
    by_set: dict[str, list[ConductorEntry]] = defaultdict(list)
    for entry in entries:
        by_set[set_name(entry.conductor.name)].append(entry)
    return tuple(
        CableSet(
            name=name,
            cable=members[0].conductor.cable.code if members[0].conductor.cable else "",
            length=max(member.need for member in members),
            entries=tuple(sorted(members, key=lambda member: (len(member.conductor.name), member.conductor.name))),
            alike=compared.get(name),
            unequal=_unequal(site, members) if name in compared and compared[name].equal is False else None,
        )
        for name, members in sorted(by_set.items(), key=lambda pair: ("ABCNG".find(pair[0]), pair[0]))
    )


def _unequal(site: Site, members: Sequence[ConductorEntry]) -> RunWarning | None:
    lengths = {member.conductor.name: member.length for member in members if member.cuts}
    return unequal_set(lengths, to_ticks(site.set_tolerance), code=site.code, unit=site.unit)


def _remarks(
    reported: Sequence[Stage], entries: Sequence[ConductorEntry], *, needed: Collection[str]
) -> dict[str, str]:
    """Return the remarks of a run's stages: those that were reported, and those where something is `needed`."""
    in_order, uncut, conductors = _standing(reported, entries, needed=needed)
    return remarks(in_order, uncut=uncut, conductors=conductors)


def _standing(
    reported: Sequence[Stage], entries: Sequence[ConductorEntry], *, needed: Collection[str]
) -> tuple[dict[str, bool], int, int]:
    """Return which of a run's stages are done, in order, and how many of its conductors are not cut, of how many."""
    done = {row.stage: row.done is not None for row in reported}
    counted = {*done, *needed, StageName.CABLES.value}
    cut = [bool(entry.cuts) for entry in entries if entry.conductor.cable_id]
    in_order = {name: done.get(name, False) for name in StageName.values if name in counted}
    return in_order, cut.count(False), len(cut)


def _stages(site: Site, run: Run) -> tuple[tuple[str, str, list[TakeoffRow]], ...]:
    lines = list(rules.takeoff_lines(site).filter(takeoff__run=run).order_by("item__group", "item__code"))
    overrides = {(row.item_id, row.stage): row for row in run.overrides.select_related("by")}
    promised = dict(
        KitLine.objects.of(site).filter(kit__run=run).order_by().values("item").annotate(total=Sum("quantity"))
        .values_list("item", "total")
    )  # fmt: skip
    # What was spoiled there and came back counts as used.
    issued = handed_out_of(site, {run.pk})
    in_all: dict[int, Decimal] = defaultdict(Decimal)
    for line in lines:
        in_all[line.item_id] += line.quantity
    told: dict[int, str] = {}
    stages = []
    for stage in StageName:
        rows = []
        for line in (line for line in lines if line.stage == stage.value):
            rows.append(
                TakeoffRow(
                    line=line,
                    override=overrides.get((line.item_id, line.stage)),
                    handed_out=from_ticks(issued[run.pk, line.stage, line.item_id]),
                    promised=promised.get(line.item_id),
                    all_stages=in_all[line.item_id],
                    told_at=told.get(line.item_id, ""),
                )
            )
            told.setdefault(line.item_id, str(stage.label))
        if rows:
            stages.append((stage.value, str(stage.label), rows))
    return tuple(stages)
