"""What was cut off reels, and what was decided about it: the kinds of record, and the ledger that keeps them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, TypeVar

from django.db.models import Model, Q, QuerySet

from reels.ledger.arrived import POINTS, bring_in, take_back, take_off
from reels.ledger.checks import cautions, new_cut
from reels.ledger.marks.content import CutError
from reels.ledger.models import Cut, CutDecision, Reading, Reel, ReelEvent
from reels.ledger.queries import known_marks, real_cuts, standing_decisions, whole_families
from reels.ledger.readings import read_off, take_reading_back
from reels.ledger.services import books_of, lock_reels, new_piece, save_reels
from takeoff.database.locks import lock
from takeoff.people.permissions import CUT, GATE
from takeoff.records.record_kinds import AT, BY, ID, Filing, Keeper, RecordKind, register_kind
from takeoff.runs.models import Conductor
from takeoff.sheets.cells.columns import Column
from takeoff.sheets.cells.kinds import Choice, Choices, Moment, Number, Reference, Text, YesNo, one_of
from takeoff.sheets.cells.measured import Length, Weight
from takeoff.sheets.registry import by_name, register_reference
from takeoff.sites.models import Site
from takeoff.units.exact import to_ticks
from takeoff.units.shown import exactly

M = TypeVar("M", bound=Model)
Decision = CutDecision.Kind
FINAL = (Decision.REVERSED, Decision.WITHDRAWN)


class ReelKeeper(Keeper):
    """Keeps cuts and what is decided about them. The lock on a reel makes two people at it take turns."""

    order = 3

    def lock(self, site: Site, filings: Sequence[Filing]) -> None:
        """Lock the reels, then the conductors that are cut: one that is cut off two reels at once is seen."""
        named = {CutsKind.name, ReadingsKind.name, RemnantsKind.name}
        reels = {filing["reel"].pk for filing in filings if filing.kind.name in named}
        reels |= {filing["cut"].reel_id for filing in filings if filing.kind.name == CutDecisionsKind.name}
        tags = {filing["reel"] for filing in filings if filing.kind.name == ReelEventsKind.name}
        taken_back = [filing.reverses.event_id for filing in filings if filing.reverses]
        if taken_back:
            cuts = Cut.objects.of(site).filter(Q(event_id__in=taken_back) | Q(decisions__event_id__in=taken_back))
            reels |= {reel for row in cuts.values_list("reel", "decisions__piece") for reel in row if reel}
            reels |= set(ReelEvent.objects.of(site).filter(event_id__in=taken_back).values_list("reel", flat=True))
            reels |= set(Reading.objects.of(site).filter(event_id__in=taken_back).values_list("reel", flat=True))
        if tags:
            reels |= set(Reel.objects.of(site).filter(tag__in=tags).values_list("pk", flat=True))
        if reels:
            # What one reel of a family gives is gone from all of it.
            lock_reels(site, whole_families(site, reels).values_list("pk", flat=True))
        runs = {filing["run"].pk for filing in filings if filing.kind.name == CutsKind.name and filing["run"]}
        if runs:
            lock(Conductor.objects.of(site).filter(run__in=runs))

    def keep(self, site: Site, filings: Sequence[Filing], *, again: bool = False) -> None:
        """Record each cut and decision, or put on it why not."""
        readings = [filing for filing in filings if filing.kind.name == ReadingsKind.name]
        read_off(site, readings)
        cuts = [filing for filing in filings if filing.kind.name == CutsKind.name]
        self._cut(site, cuts)
        came = [filing for filing in filings if filing.kind.name == ReelEventsKind.name]
        bring_in(site, came)
        for filing in filings:
            if filing in cuts or filing in came or filing in readings:
                continue
            try:
                if filing.kind.name == RemnantsKind.name:
                    take_off(site, filing)
                elif filing.reverses and filing.reverses.kind in {ReelEventsKind.name, RemnantsKind.name}:
                    take_back(site, filing)
                elif filing.reverses and filing.reverses.kind == ReadingsKind.name:
                    take_reading_back(site, filing)
                else:
                    self._decide(site, filing)
            except CutError as error:
                filing.error = error

    def _cut(self, site: Site, filings: Sequence[Filing]) -> None:
        reels = {reel.pk: reel for reel in lock_reels(site, {filing["reel"].pk for filing in filings})}
        runs = {filing["run"].pk for filing in filings if filing["run"]}
        conductors: dict[tuple[int, str], Conductor] = {}
        if runs:
            rows = Conductor.objects.of(site).filter(run__in=runs).select_related("run", "cable")
            conductors = {(row.run_id, row.name): row for row in rows}
        fresh: dict[str, Cut] = {}
        marks = known_marks(site, reels.values())
        for filing in filings:
            try:
                conductor = _conductor(filing, conductors)
                fresh[filing.id] = new_cut(site, reels[filing["reel"].pk], marks[filing["reel"].pk], filing, conductor)
            except CutError as error:
                filing.error = error
        said = cautions(site, list(reels.values()), list(fresh.values()))
        Cut.objects.bulk_create(fresh.values(), batch_size=1000)
        for filing in filings:
            filing.look += said[filing.id]

    def _decide(self, site: Site, filing: Filing) -> None:
        undone: CutDecision | None = None
        if filing.reverses is None:
            cut, kind = filing["cut"], Decision(filing["decision"])
        elif filing.reverses.kind == CutsKind.name:
            cut, kind = _there(filing, Cut.objects.of(site)), Decision.REVERSED
        else:
            undone = _there(filing, CutDecision.objects.of(site).select_related("cut__reel", "piece", "taken_back_by"))
            cut, kind = undone.cut, Decision(undone.kind)
        if undone is None:
            _check_decision(site, cut, kind, filing)
        else:
            _undo(site, undone)
        piece = None
        if filing.reverses is None and kind == Decision.WITHDRAWN and filing["piece_tag"]:
            marks = (cut.outer_mark, cut.inner_mark)
            piece = new_piece(site, cut.reel, filing["piece_tag"], cut.length, marks, cut.reel.place)
        CutDecision.objects.create(
            cut=cut,
            event_id=filing.id,
            kind=kind,
            at=filing.at,
            recorded_at=filing.record.recorded_at,
            reason=filing["reason"],
            piece=piece,
            takes_back=undone,
            recorded_by=filing.sender,
        )


REELS = ReelKeeper()


class CutsKind(RecordKind):
    """Lengths that were taken off reels."""

    name = "cuts"
    order = 280
    rank = 6
    correction = "take the cut back and report it under a new id"
    help = "What was cut off which reel: between two printed marks, or by tape, or both. The tape is believed."
    permission = CUT
    keeper = REELS
    may_need_a_look = True
    columns = (
        Column("id", Text(80), "The cut's own id; the same id is kept once.", required=True, example="C-0001"),
        Column("reel", Reference(to="reel"), "The reel.", required=True),
        Column("at", Moment(), "When it was cut.", required=True),
        Column("run", Reference(to="run"), "The run that it is for.", default_help="for purpose conductor, required"),
        Column("conductor", Text(10), "The conductor.", default="", default_help="for purpose conductor, required"),
        Column("purpose", Choice(tuple(Cut.Purpose.values)), "What for.", default=Cut.Purpose.CONDUCTOR.value),
        Column("outer_mark", Number(), "Printed mark at its outer end.", default_help="not read"),
        Column("inner_mark", Number(), "Printed mark it was cut at.", default_help="not read"),
        Column("length", Length(above_zero=True), "Its length by tape.", default_help="by the marks"),
        Column("by", Text(120), "Who cut it.", default="", default_help="not said"),
    )

    def subject(self, said: Mapping[str, Any]) -> str:
        """Return the reel that it came off."""
        return f"reel {said['reel']}"


class ReadingsKind(RecordKind):
    """What was read off reels in use."""

    name = "readings"
    did = "Read"
    order = 282
    rank = 6
    help = (
        "What was read off a reel: the mark showing at its outer end, the mark where its cable ended, its weight, how "
        "far it is wound. A mark showing makes no cut."
    )
    permission = CUT
    keeper = REELS
    may_need_a_look = True
    looked_at = "mark"
    columns = (
        ID,
        Column("reel", Reference(to="reel"), "The reel.", required=True),
        AT,
        Column("what", Choice(tuple(Reading.What.values)), "What was read.", required=True),
        Column("mark", Number(), "The printed mark.", default_help="for the two marks, required"),
        Column("weight", Weight(), "Cable and reel.", default_help="for weight, required"),
        Column(
            "diameter", Length(needs_unit=True, above_zero=True), "As it is wound.", default_help="for that, required"
        ),
        Column("turns", Number(), "Turns of cable on it.", default_help="for turns, required"),
        Column("note", Text(300), "What else there is to say.", default="", default_help="none"),
        BY,
    )

    def subject(self, said: Mapping[str, Any]) -> str:
        """Return the reel."""
        return f"reel {said['reel']}"


class CutDecisionsKind(RecordKind):
    """What was decided about cuts afterwards; the cut itself stays as it was recorded."""

    name = "cut_decisions"
    order = 285
    rank = 7
    help = (
        "What became of a cut: withdrawn (it failed, the need is open again; the cable is a tagged piece or scrap), "
        "or accepted (shorter than needed, and can still be terminated)."
    )
    permission = CUT
    keeper = REELS
    columns = (
        ID,
        Column("cut", Reference(to="cut"), "The cut's id.", required=True),
        Column("decision", Choice((Decision.WITHDRAWN.value, Decision.ACCEPTED.value)), "What.", required=True),
        Column("reason", Text(300), "Why.", required=True),
        AT,
        Column("piece_tag", Text(60), "The tag of the piece, where it is kept.", default="", default_help="scrap"),
        BY,
    )

    def subject(self, said: Mapping[str, Any]) -> str:
        """Return the cut that it is about."""
        return f"record {said['cut']}"


class RemnantsKind(RecordKind):
    """What was left on reels and came off them with tags of its own."""

    name = "remnants"
    did = "Remnant tagged"
    order = 287
    rank = 7
    help = "What was left on a reel and came off it with a tag of its own. The reel is then empty."
    permission = CUT
    keeper = REELS
    may_need_a_look = True
    looked_at = "reel"
    columns = (
        ID,
        Column("reel", Reference(to="reel"), "The reel that it came off.", required=True),
        Column("tag", Text(60), "Its own tag.", required=True, example="R-101-A"),
        AT,
        Column("bin", Text(120), "Where it lies; made when it is new.", default="", default_help="where the reel lies"),
        BY,
    )

    def subject(self, said: Mapping[str, Any]) -> str:
        """Return the reel that it came off."""
        return f"reel {said['reel']}"

    def brings(self, said: Mapping[str, Any]) -> tuple[str, ...]:
        """Return the reel that it makes."""
        return (f"reel {said['tag']}",)


class ReelEventsKind(RecordKind):
    """Reels that came."""

    name = "reel_events"
    founds = "reel"
    did = "Reel brought in"
    order = 278
    rank = 0
    help = "A reel that came: what is read off it, and whether it is whole. A missing end seal puts it on hold."
    permission = GATE
    keeper = REELS
    may_need_a_look = True
    looked_at = "reel"
    columns = (
        ID,
        Column("reel", Text(60), "The reel's tag.", required=True, example="R-101"),
        AT,
        Column("cable", Reference(to="cable"), "The cable on it.", default_help="as announced"),
        Column("length", Length(above_zero=True), "Its length by the tag.", default_help="as announced"),
        Column("outer_mark", Number(), "Printed mark at the outer end.", default_help="not read"),
        Column("inner_mark", Number(), "Printed mark at the core.", default_help="not read"),
        Column("mark_unit", Choice(("ft", "m")), "What the marks count.", default_help="as announced, else the site's"),
        Column("gross", Weight(), "Weight as received.", default_help="not weighed"),
        Column("tare", Weight(), "Weight of the bare reel.", default_help="as announced"),
        Column("points", Choices(POINTS), "What tells of trouble.", default="", default_help="nothing"),
        Column("held", YesNo(), "Whether it waits for a decision.", default_help="where its end seal is missing"),
        Column("bin", Text(120), "Where it stands; made when it is new.", default="", default_help="not said"),
        Column("shipment", Text(60), "The shipment that brought it.", default="", default_help="as announced"),
        Column("note", Text(300), "What else there is to say.", default="", default_help="none"),
        BY,
    )

    def subject(self, said: Mapping[str, Any]) -> str:
        """Return the reel."""
        return f"reel {said['reel']}"

    def brings(self, said: Mapping[str, Any]) -> tuple[str, ...]:
        """Return the reel that it makes where nobody announced it."""
        return (f"reel {said['reel']}",)


def _conductor(filing: Filing, conductors: Mapping[tuple[int, str], Conductor]) -> Conductor | None:
    """Return the conductor that a cut is for, None for any other purpose. Raises CutError."""
    run, name, purpose = filing["run"], filing["conductor"], filing["purpose"]
    if purpose != Cut.Purpose.CONDUCTOR:
        if run or name:
            column = "run" if run else "conductor"
            expected = f"no run and no conductor for a {purpose}"
            raise CutError("no_conductor", f"A {purpose} is for no conductor.", column=column, expected=expected)
        return None
    if not run:
        expected = "the run of the conductor, or another purpose"
        raise CutError("no_conductor", "A cut for a conductor names its run.", column="run", expected=expected)
    conductor = conductors.get((run.pk, name))
    if conductor is None:
        names = sorted(each for of_run, each in conductors if of_run == run.pk)
        known = one_of(names, name) if names else "it has none"
        raise CutError(
            "unknown_conductor",
            f"{run} has no conductor {name}.",
            column="conductor",
            found=name,
            expected=f"a conductor of {run}: {known}",
        )
    return conductor


def _there(filing: Filing, rows: QuerySet[M]) -> M:
    """Return what a reversal takes back. Raises CutError while it waits itself."""
    assert filing.reverses is not None
    found = rows.filter(event_id=filing.reverses.event_id).first()
    if found is None:
        lacks = f"record {filing.reverses}"
        raise CutError("no_cut", f"{filing.reverses} is not in the books yet.", column="reverses", lacks=lacks)
    return found


def _undo(site: Site, decision: CutDecision) -> None:
    """Undo the piece that a decision brought. Raises CutError when it was taken back before, or the piece was cut."""
    if earlier := getattr(decision, "taken_back_by", None):
        raise CutError("decided", f"{decision} was taken back before: {earlier.reason}.", column="reverses")
    piece = decision.piece
    if piece is None:
        return
    if real_cuts(site).filter(reel=piece).exists() or piece.remnants.exists():
        raise CutError("decided", f"Piece {piece} was cut since: take its cuts back first.", column="reverses")
    piece.state = piece.State.EMPTY
    save_reels(site=site, new=[], changed=[piece], fields={"state"})


def _check_decision(site: Site, cut: Cut, kind: Decision, filing: Filing) -> None:
    """Raise CutError for a decision that the cut does not allow."""
    made = {decision.kind: decision for decision in standing_decisions(site).filter(cut=cut)}
    for earlier in (kind, *FINAL):
        if earlier in made:
            reason = made[earlier].reason
            raise CutError("decided", f"Cut {cut} is {earlier} already: {reason}.", column="cut")
    if kind != Decision.ACCEPTED:
        return
    if cut.conductor is None:
        raise CutError("no_conductor", f"Cut {cut} is for no conductor.", column="cut")
    length, least = books_of(site, cut.reel).lengths[cut.event_id], to_ticks(cut.conductor.least_length)
    if length < least:
        raise CutError(
            "too_short",
            f"Cut {cut} is {exactly(length, site.unit)}; {cut.conductor} cannot be terminated below "
            f"{exactly(least, site.unit)}.",
            column="cut",
        )


register_reference(
    "cut", by_name(lambda site: Cut.objects.of(site).select_related("reel", "conductor__run"), "event_id")
)
register_kind(ReelEventsKind())
register_kind(CutsKind())
register_kind(ReadingsKind())
register_kind(CutDecisionsKind())
register_kind(RemnantsKind())
