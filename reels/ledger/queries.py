"""
Reading the ledger of reels: what is left on each, what is cut of each conductor, as of a day.

The same few queries serve one reel or all of a site's; everything else is worked out by `marks`. Lengths are ticks.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from fractions import Fraction

from django.db.models import Exists, OuterRef, Q, QuerySet

from reels.ledger.entries import CableEntry, ConductorEntry, Ledger, ReelEntry
from reels.ledger.marks.alike import SetComparison, SetCut, compare_set
from reels.ledger.marks.family import Member, families, family_books
from reels.ledger.marks.line import ReelBooks
from reels.ledger.marks.printed import CutMarks, ReelMarks, Showing
from reels.ledger.marks.reading import CENTIMETRE, CENTIMETRES, INCHES, Hands, unreliable_tail
from reels.ledger.models import Cut, CutDecision, Reading, Reel, ReelEvent
from takeoff.catalogue.models import Cable
from takeoff.runs.models import Conductor, Run
from takeoff.sites.models import Site
from takeoff.units.exact import to_ticks
from takeoff.units.lengths import INCH

READING = {"ft": Decimal("152.4"), "m": Decimal(150)}  # mm, where the site does not say: 0.5 ft, 0.15 m


def reading_of(site: Site) -> int:
    """Return what two people of a site read differently of one mark. [ticks]"""
    return to_ticks(site.mark_reading or READING[site.unit])


def hands_of(site: Site) -> Hands:
    """Return how the crews of a site measure: whole inches on a site in feet, centimetres in metres, unless it says."""
    if site.unit == Site.Unit.FEET:
        return Hands(INCH, site.marks_as or INCHES)
    return Hands(CENTIMETRE, site.marks_as or CENTIMETRES)


def reel_marks(reel: Reel, end: Decimal | None = None) -> ReelMarks:
    """
    Return a reel as the arithmetic of marks takes it. Raises MarksError when its marks are the same.

    end : the mark at which its cable ended in truth, where somebody came to it.
    """
    return ReelMarks(
        length=to_ticks(reel.length),
        outer=None if reel.outer_mark is None else to_ticks(reel.outer_mark),
        inner=None if reel.inner_mark is None else to_ticks(reel.inner_mark),
        unit=reel.mark_unit,
        end=None if end is None or reel.outer_mark is None else to_ticks(end),
    )


def cut_marks(cut: Cut) -> CutMarks:
    """Return a cut as the arithmetic of marks takes it, named by its event."""
    return CutMarks(
        id=cut.event_id,
        outer=None if cut.outer_mark is None else to_ticks(cut.outer_mark),
        inner=None if cut.inner_mark is None else to_ticks(cut.inner_mark),
        taped=to_ticks(cut.length) if cut.taped else None,
        at=cut.at,
    )


def cuts_of_set(entry: ReelEntry, conductor: Conductor) -> list[CutMarks]:
    """Return what was cut off a reel for the set of a conductor."""
    wanted = conductor.run_id, set_name(conductor.name)
    return [
        cut_marks(cut)
        for cut in entry.cuts
        if cut.conductor and (cut.conductor.run_id, set_name(cut.conductor.name)) == wanted
    ]


def real_cuts(site: Site, as_of: date | None = None) -> QuerySet[Cut]:
    """Return the cuts that happened, up to the end of a day: those that were reversed by then left out."""
    cuts = Cut.objects.of(site)
    reversals = CutDecision.objects.of(site).filter(cut=OuterRef("pk"), kind=CutDecision.Kind.REVERSED)
    if as_of is not None:
        after = site.start_of(as_of + timedelta(days=1))
        cuts, reversals = cuts.filter(at__lt=after), reversals.filter(at__lt=after)
    return cuts.filter(~Exists(reversals))


def standing_decisions(site: Site, before: datetime | None = None) -> QuerySet[CutDecision]:
    """Return what was decided about cuts, up to a moment, and not taken back by then."""
    rows, taken_back = CutDecision.objects.of(site).filter(takes_back=None), Q(taken_back_by__isnull=False)
    if before is not None:
        rows, taken_back = rows.filter(at__lt=before), Q(taken_back_by__at__lt=before)
    return rows.exclude(taken_back)


def decisions(site: Site, as_of: date | None = None) -> dict[int, set[str]]:
    """Return the kinds of decision that stand about each cut at the end of a day, for the cuts that have any."""
    rows = standing_decisions(site, None if as_of is None else site.start_of(as_of + timedelta(days=1)))
    decided: dict[int, set[str]] = defaultdict(set)
    for cut, kind in rows.values_list("cut_id", "kind"):
        decided[cut].add(kind)
    return decided


def ledger(site: Site, *, as_of: date | None = None) -> Ledger:
    """
    Return the books of all reels and conductors of a site in a constant number of queries.

    as_of : cuts and decisions up to the end of this day on site; reels and lengths needed are as they are today.
    """
    # Rows that many share are read once and handed out: joining them to every cut would cost most of the time.
    runs = {run.pk: run for run in Run.objects.of(site)}
    kinds = {cable.pk: cable for cable in Cable.objects.of(site)}
    conductors = {conductor.pk: conductor for conductor in Conductor.objects.of(site)}
    for conductor in conductors.values():
        conductor.run = runs[conductor.run_id]
        conductor.cable = None if conductor.cable_id is None else kinds[conductor.cable_id]
    reels = list(Reel.objects.of(site).select_related("place", "parent"))
    for reel in reels:
        reel.cable = kinds[reel.cable_id]
    cuts = list(real_cuts(site, as_of))
    for cut in cuts:
        cut.conductor = None if cut.conductor_id is None else conductors[cut.conductor_id]
    decided = decisions(site, as_of)
    entries = _entries(site, reels, cuts, decided, as_of)
    return Ledger(entries, _conductors(conductors.values(), entries, decided))


def reel_entries(
    site: Site, *, as_of: date | None = None, reels: QuerySet[Reel] | None = None
) -> tuple[ReelEntry, ...]:
    """Return the books of all reels of a site, or of those given, by tag, in a constant number of queries."""
    wanted = None if reels is None else list(reels.values_list("pk", flat=True))
    rows = whole_families(site, wanted).select_related("cable", "place", "parent")
    cuts = real_cuts(site, as_of).select_related("conductor__run")
    if wanted is not None:
        cuts = cuts.filter(reel__in=rows)
    return _entries(site, rows, cuts, decisions(site, as_of), as_of, wanted)


def conductor_entries(
    site: Site, *, conductors: QuerySet[Conductor], as_of: date | None = None
) -> tuple[ConductorEntry, ...]:
    """Return what is cut of the conductors given, by run and name, in a constant number of queries."""
    on = Cut.objects.of(site).filter(conductor__in=conductors).values_list("reel", flat=True)
    rows = list(whole_families(site, on))
    decided = decisions(site, as_of)
    entries = _entries(site, rows, real_cuts(site, as_of).filter(reel__in=rows), decided, as_of)
    return _conductors(conductors.select_related("run", "cable"), entries, decided)


def cables(site: Site, *, as_of: date | None = None, books: Ledger | None = None) -> list[CableEntry]:
    """Return every cable of a site with what is needed, cut and on reels, in a constant number of queries."""
    books = books or ledger(site, as_of=as_of)
    entries = []
    for cable in Cable.objects.of(site).order_by("code"):
        needs = [entry for entry in books.conductors if entry.conductor.cable_id == cable.pk]
        reels = [entry for entry in books.reels if entry.reel.cable_id == cable.pk]
        still_open = [entry for entry in needs if not entry.is_cut]
        here = [entry for entry in reels if entry.is_here]
        need, open_ = sum(entry.need for entry in needs), sum(entry.need for entry in still_open)
        entries.append(
            CableEntry(
                cable=cable,
                need=need,
                cut=need - open_,
                open=open_,
                on_reels=sum(entry.left for entry in here),
                usable=sum(entry.usable for entry in here),
                on_the_way=sum(e.left for e in reels if e.reel.state == Reel.State.ON_THE_WAY),
            )
        )
    return entries


@dataclass(frozen=True, slots=True)
class Remnants:
    """Reels and pieces of one cable that are worth keeping, longest first: of any site, `site` being whose they are."""

    site: Site
    cable: Cable
    entries: tuple[ReelEntry, ...]


def remnants(sites: Sequence[Site]) -> list[Remnants]:
    """
    Return what was cut from and is worth keeping on these sites, by cable size, material, site and code.

    Give it the sites that a person may see. A few queries for each site.
    """
    found = []
    for site in sites:
        of_cable: dict[int, list[ReelEntry]] = defaultdict(list)
        for entry in reel_entries(site, reels=Reel.objects.of(site).filter(state=Reel.State.ON_SITE)):
            if not entry.whole and entry.left >= to_ticks(site.keep_length):
                of_cable[entry.reel.cable_id].append(entry)
        for entries in of_cable.values():
            entries.sort(key=lambda entry: (-entry.left, entry.reel.tag))
            found.append(Remnants(site, entries[0].reel.cable, tuple(entries)))
    return sorted(found, key=lambda one: (one.cable.size, one.cable.material, one.site.name, one.cable.code))


def set_name(conductor: str) -> str:
    """Return the set that a conductor of a run belongs to: its letters, A of A1, N of N2, G of G1."""
    return conductor.rstrip("0123456789")


def compare_conductors(site: Site, entries: Sequence[ConductorEntry]) -> dict[tuple[str, str], SetComparison]:
    """Return how alike the cut conductors of each set are, by run and set; sets with fewer than two left out."""
    sets: dict[tuple[str, str], list[SetCut]] = defaultdict(list)
    families = families_of(site)
    for entry in entries:
        if entry.cuts:
            cut = entry.cuts[0]
            by_marks = None
            if cut.outer_mark is not None and cut.inner_mark is not None:
                by_marks = reel_marks(cut.reel).by_marks(abs(to_ticks(cut.outer_mark) - to_ticks(cut.inner_mark)))
            taped = to_ticks(cut.length) if cut.taped else None
            key = (entry.conductor.run.name, set_name(entry.conductor.name))
            family = str(families.get(cut.reel_id, cut.reel_id))
            sets[key].append(SetCut(entry.conductor.name, family, taped, by_marks))
    tolerance, allowance = to_ticks(site.set_tolerance), Fraction(site.mark_allowance)
    return {key: compare_set(cuts, tolerance, allowance) for key, cuts in sets.items() if len(cuts) > 1}


def families_of(site: Site) -> dict[int, int]:
    """Return the reel that each piece came off in the end, by their keys; reels that came whole left out."""
    rows = Reel.objects.of(site).values_list("pk", "parent")
    first = families({str(reel): str(parent or "") for reel, parent in rows})
    return {int(reel): int(root) for reel, root in first.items() if reel != root}


def whole_families(site: Site, wanted: Iterable[int] | None = None) -> QuerySet[Reel]:
    """Return the reels wanted, by their keys, with all that came off the same reel; all of a site's without."""
    rows = Reel.objects.of(site)
    if wanted is None:
        return rows
    first = families_of(site)
    roots = {first.get(key, key) for key in wanted}
    return rows.filter(pk__in=roots | {key for key, root in first.items() if root in roots})


def books_of_reels(
    site: Site, reels: Iterable[Reel], cuts: Iterable[Cut], as_of: date | None = None
) -> dict[int, ReelBooks]:
    """Return the books of whole families by the keys of their reels. cuts : all that happened, saved or not."""
    reels = list(reels)
    return _books(site, reels, known_marks(site, reels, as_of), by_reel(cuts), as_of)


def known_marks(site: Site, reels: Iterable[Reel], as_of: date | None = None) -> dict[int, ReelMarks]:
    """Return reels as the arithmetic of marks takes them, by their keys, with where their cable ended in truth."""
    ends = ends_read(site, as_of)
    return {reel.pk: reel_marks(reel, ends.get(reel.pk)) for reel in reels}


def ends_read(site: Site, as_of: date | None = None) -> dict[int, Decimal]:
    """Return the mark at which the cable of reels ended, by their keys, where somebody came to it."""
    rows = standing_readings(site, as_of).filter(what=Reading.What.END).order_by("at", "event_id")
    return dict(rows.values_list("reel", "value"))


def standing_readings(site: Site, as_of: date | None = None) -> QuerySet[Reading]:
    """Return what was read off reels, up to the end of a day, and not taken back by then."""
    rows, back = Reading.objects.of(site).filter(takes_back=None), Q(taken_back__isnull=False)
    if as_of is not None:
        before = site.start_of(as_of + timedelta(days=1))
        rows, back = rows.filter(at__lt=before), Q(taken_back__at__lt=before)
    return rows.exclude(back)


def _books(
    site: Site,
    reels: Sequence[Reel],
    marks: Mapping[int, ReelMarks],
    of_reel: Mapping[int, Sequence[Cut]],
    as_of: date | None,
) -> dict[int, ReelBooks]:
    out_of, standing = _came_out_of(site, as_of)
    never = {piece for piece in out_of if piece not in standing} | _never_taken_off(site)
    showings: dict[int, list[Showing]] = defaultdict(list)
    for row in standing_readings(site, as_of).filter(what=Reading.What.SHOWING):
        showings[row.reel_id].append(Showing(row.event_id, to_ticks(row.value), row.at))
    tags = {reel.pk: reel.tag for reel in reels}
    members = [
        Member(
            tag=reel.tag,
            reel=marks[reel.pk],
            cuts=tuple(cut_marks(cut) for cut in of_reel.get(reel.pk, ())),
            showings=tuple(showings[reel.pk]) if marks[reel.pk].has_marks else (),
            parent=tags.get(reel.parent_id, "") if reel.parent_id else "",
            out_of=out_of.get(reel.pk, ""),
            never=reel.pk in never,
        )
        for reel in reels
    ]
    books = family_books(members, reading_of(site))
    return {reel.pk: books[reel.tag] for reel in reels}


def _came_out_of(site: Site, as_of: date | None) -> tuple[dict[int, str], set[int]]:
    """Return the cut that each piece came out of, by key and id; and the pieces of which that stands."""
    rows = CutDecision.objects.of(site).filter(piece__isnull=False)
    before = None if as_of is None else site.start_of(as_of + timedelta(days=1))
    out_of, standing = {}, set()
    for piece, cut, at, back in rows.values_list("piece", "cut__event_id", "at", "taken_back_by__at"):
        out_of[piece] = cut
        if (before is None or at < before) and (back is None or (before is not None and back >= before)):
            standing.add(piece)
    return out_of, standing


def _never_taken_off(site: Site) -> set[int]:
    """Return the remnants that records took off their reels and that were taken back, as they are today."""
    rows = ReelEvent.objects.of(site).filter(reel__parent__isnull=False, takes_back=None, before__isnull=True)
    stands: dict[int, bool] = defaultdict(bool)
    for reel, back in rows.values_list("reel", "taken_back"):
        stands[reel] |= back is None
    return {reel for reel, still in stands.items() if not still}


def by_reel(cuts: Iterable[Cut]) -> dict[int, list[Cut]]:
    """Return cuts by the key of their reel."""
    found: dict[int, list[Cut]] = defaultdict(list)
    for cut in cuts:
        found[cut.reel_id].append(cut)
    return found


def _entries(
    site: Site,
    reels: Iterable[Reel],
    cuts: Iterable[Cut],
    decided: Mapping[int, set[str]],
    as_of: date | None = None,
    wanted: Iterable[int] | None = None,
) -> tuple[ReelEntry, ...]:
    """Return entries of reels, or of those `wanted` by their keys, by tag. reels, cuts : of whole families."""
    reels, cuts = list(reels), list(cuts)
    of_reel, marks = by_reel(cuts), known_marks(site, reels, as_of)
    books = _books(site, reels, marks, of_reel, as_of)
    shown = reels if wanted is None else [reel for reel in reels if reel.pk in set(wanted)]
    return tuple(
        _entry(site, reel, marks[reel.pk], books[reel.pk], of_reel[reel.pk], decided)
        for reel in sorted(shown, key=lambda one: one.tag)
    )


def _entry(
    site: Site,
    reel: Reel,
    marked: ReelMarks,
    books: ReelBooks,
    cuts: Sequence[Cut],
    decided: Mapping[int, set[str]],
) -> ReelEntry:
    def depth(cut: Cut) -> tuple[bool, int, str]:
        mark = None if cut.outer_mark is None else to_ticks(cut.outer_mark)
        return mark is None, 0 if mark is None else marked.depth(mark), cut.event_id

    for cut in cuts:
        cut.reel = reel
    return ReelEntry(
        reel=reel,
        marks=marked,
        books=books,
        cuts=tuple(sorted(cuts, key=depth)),
        tail=unreliable_tail(marked, books, Fraction(site.mark_allowance), to_ticks(site.safety_tail)),
        decided={cut.pk: frozenset(decided[cut.pk]) for cut in cuts if cut.pk in decided},
    )


def _conductors(
    conductors: Iterable[Conductor], entries: Iterable[ReelEntry], decided: Mapping[int, set[str]]
) -> tuple[ConductorEntry, ...]:
    by_conductor: dict[int, list[tuple[int, str, Cut]]] = defaultdict(list)
    for entry in entries:
        for cut in entry.cuts:
            if cut.conductor_id is not None and CutDecision.Kind.WITHDRAWN not in entry.decided.get(cut.pk, ()):
                by_conductor[cut.conductor_id].append((-entry.books.lengths[cut.event_id], cut.event_id, cut))
    found = []
    for conductor in sorted(conductors, key=lambda one: (one.run.name, one.name)):
        # Cable of another kind, cut before the run's cable was changed, serves nothing now.
        serving = (cut for cut in by_conductor[conductor.pk] if conductor.cable_id in {None, cut[2].reel.cable_id})
        cuts = sorted(serving, key=lambda cut: cut[:2])
        accepted = bool(cuts) and CutDecision.Kind.ACCEPTED in decided.get(cuts[0][2].pk, ())
        found.append(
            ConductorEntry(
                conductor=conductor,
                need=to_ticks(conductor.length),
                least=to_ticks(conductor.least_length),
                cuts=tuple(cut for _, _, cut in cuts),
                length=-cuts[0][0] if cuts else 0,
                accepted=accepted,
            )
        )
    return tuple(found)
