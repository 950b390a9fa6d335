"""Reels that came, and remnants that came off them: what brings each in or takes that back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from reels.ledger.marks.content import CutError
from reels.ledger.models import Reel, ReelEvent
from reels.ledger.queries import real_cuts
from reels.ledger.services import lock_reels, record_reel_events, save_reels, take_off_remnant
from takeoff.database.folding import folded
from takeoff.records.record_kinds import Filing
from takeoff.records.reported import reported, taking
from takeoff.sites.models import Site
from takeoff.sites.services import make_bins
from takeoff.units.exact import to_ticks
from takeoff.units.shown import exactly

State = Reel.State
# What tells of trouble on a reel that came (cable handling guides).
END_SEAL = "end seal missing"
POINTS = (
    "lying flat",
    "stacked",
    "other freight on it",
    "nails in flange",
    "flange broken",
    "covering off",
    END_SEAL,
    "dropped",
)
MARKS = ("length", "outer_mark", "inner_mark", "mark_unit")
PLACED = (*MARKS, "gross", "tare", "weight_unit", "delivery", "place_id", "state")
MARK = {"ft": Decimal("304.8"), "m": Decimal(1000)}  # mm
ASK_ABOVE = Decimal("0.01")  # between marks and the tag's length


def bring_in(site: Site, filings: Sequence[Filing]) -> None:
    """Bring reels in that came, made where nobody announced them; what cannot have come so has its error."""
    rest = list(filings)
    while rest:
        of_each = {filing["reel"]: filing for filing in reversed(rest)}  # of a tag that is named twice the first
        _bring_in(site, of_each)
        rest = [filing for filing in rest if of_each[filing["reel"]] is not filing]


def _bring_in(site: Site, filings: Mapping[str, Filing]) -> None:
    """Bring one reel in for each tag."""
    keys = Reel.objects.of(site).filter(tag__in=filings).values_list("pk", flat=True)
    known = {reel.tag: reel for reel in lock_reels(site, keys)}
    taken_back = ReelEvent.objects.of(site).filter(reel__in=known.values(), taken_back__isnull=False)
    came_before = set(taken_back.values_list("reel", flat=True))
    bins = make_bins(site=site, names=[filing["bin"] for filing in filings.values() if filing["bin"]])
    events: dict[str, ReelEvent] = {}
    for tag, filing in filings.items():
        reel = known.get(tag) or Reel(site=site, tag=tag)
        announced = {name: _plain(getattr(reel, name)) for name in PLACED} if tag in known else None
        try:
            _check(reel, filing, again=reel.pk in came_before)
        except CutError as error:
            filing.error = error
            continue
        _read_off(reel, filing, bins)
        said = {"points": filing["points"], "note": filing["note"]}
        events[tag] = ReelEvent(reel=reel, before=announced, **said, **reported(filing))
    reels = [event.reel for event in events.values()]
    new = [reel for reel in reels if reel.tag not in known]
    changed = [reel for reel in reels if reel.tag in known]
    wrong = save_reels(site=site, new=new, changed=changed, fields={"cable", *PLACED})
    for tag, event in events.items():
        if tag in wrong:
            filings[tag].error = wrong[tag]
        else:
            filings[tag].look += _doubts(event.reel, filings[tag])
    record_reel_events([event for tag, event in events.items() if tag not in wrong])


def take_off(site: Site, filing: Filing) -> None:
    """Give what is left on a reel a tag of its own; what lies on hold stays so. Raises CutError."""
    reel: Reel = filing["reel"]
    bins = make_bins(site=site, names=[filing["bin"]] if filing["bin"] else [])
    place = bins[folded(filing["bin"])] if filing["bin"] else None
    piece = take_off_remnant(site=site, reel=reel, tag=filing["tag"], place=place)
    if reel.state not in {State.ON_SITE, State.HELD}:
        filing.look.append(f"Reel {reel} is said to be {reel.get_state_display().lower()}.")
    record_reel_events([ReelEvent(reel=piece, **reported(filing))])


def take_back(site: Site, filing: Filing) -> None:
    """
    Let a reel be on the way again, or gone where it was made, what came off another being on that again.

    Raises CutError once it was cut.
    """
    assert filing.reverses is not None
    event = ReelEvent.objects.of(site).filter(event_id=filing.reverses.event_id).select_related("reel__parent").first()
    if event is None:
        raise CutError("no_event", f"{filing.reverses} is not in the books yet.", lacks=f"record {filing.reverses}")
    if hasattr(event, "taken_back"):
        raise CutError("decided", f"{event} was taken back before.", column="reverses")
    reel = event.reel
    if real_cuts(site).filter(reel=reel).exists() or reel.remnants.exists():
        raise CutError("decided", f"Reel {reel} was cut since: take its cuts back first.", column="reverses")
    changed = [reel]
    if reel.parent is not None and event.before is None:
        reel.parent.state = reel.state
        changed.append(reel.parent)
    for name, value in (event.before or {"state": State.EMPTY}).items():
        setattr(reel, name, value)
    save_reels(site=site, new=[], changed=changed, fields={*PLACED})
    record_reel_events([ReelEvent(reel=reel, **taking(event, filing))])


def _check(reel: Reel, filing: Filing, *, again: bool) -> None:
    """Raise CutError for a reel that is here already, or of which too little is said. again : it came, by mistake."""
    cable, new = filing["cable"], reel._state.adding
    if new and (cable is None or filing["length"] is None):
        column = "length" if cable else "cable"
        text = f"Nobody announced reel {reel}: say its cable and its length."
        raise CutError("unknown_reel", text, column=column, expected="the cable and the length of a new reel")
    expected = reel.state == State.ON_THE_WAY or (reel.state == State.EMPTY and again)
    if not new and not expected:
        text = f"Reel {reel} is here already, {reel.get_state_display().lower()}: its tag is in use."
        raise CutError("tag_taken", text, column="reel", found=reel.tag)
    if not new and cable is not None and cable.pk != reel.cable_id:
        text = f"Reel {reel} was announced with {reel.cable}, not {cable}."
        raise CutError("other_cable", text, column="cable", found=str(cable))
    if (filing["outer_mark"] is None) != (filing["inner_mark"] is None):
        column = "inner_mark" if filing["inner_mark"] is None else "outer_mark"
        raise CutError("one_mark", "Say both marks, or neither.", column=column)


def _read_off(reel: Reel, filing: Filing, bins: dict[str, Any]) -> None:
    """Put what was read on the reel; what was not read stays as it was announced."""
    if filing["cable"]:
        reel.cable = filing["cable"]
    for name in ("length", "outer_mark", "inner_mark"):
        if filing[name] is not None:
            setattr(reel, name, filing[name])
    reel.mark_unit = filing["mark_unit"] or (reel.site.unit if reel._state.adding else reel.mark_unit)
    for name in ("gross", "tare"):
        if filing[name]:
            setattr(reel, name, filing[name].value)
            reel.weight_unit = filing[name].unit
    if filing["shipment"]:
        reel.delivery = filing["shipment"]
    if filing["bin"]:
        reel.place = bins[folded(filing["bin"])]
    held = filing["held"] if filing["held"] is not None else END_SEAL in filing["points"]
    reel.state = State.HELD if held else State.ON_SITE


def _doubts(reel: Reel, filing: Filing) -> list[str]:
    """Return what a person should look at: marks that say another length, a point that nobody holds it for."""
    found = []
    if reel.outer_mark is not None and reel.inner_mark is not None:
        by_marks = abs(reel.outer_mark - reel.inner_mark) * MARK[reel.mark_unit]
        if abs(by_marks - reel.length) > reel.length * ASK_ABOVE:
            unit = reel.site.unit
            told, read = exactly(to_ticks(reel.length), unit), exactly(to_ticks(by_marks), unit)
            found.append(f"The marks of {reel} say {read}, its tag {told}.")
    if filing["points"] and reel.state != State.HELD:
        found.append(f"{reel}: {filing['points']}. It is not on hold.")
    return found


def _plain(value: Any) -> Any:
    return str(value) if isinstance(value, Decimal) else value
