"""Trucks at the gate, and shipments that nobody announced: the kinds of record."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from kits.gate.models import Arrival, ArrivedPackage, TruckCall
from kits.gate.paper_words import words_for_paper
from kits.gate.services import forget_shipments, make_shipments, record_arrivals, record_calls
from kits.shipments.models import Package, Shipment
from kits.shipments.services import make_packages
from takeoff.database.locks import lock
from takeoff.people.permissions import GATE
from takeoff.records.record_kinds import AT, BY, ID, Filing, Keeper, RecordKind, by_kind, register_kind, taking_back
from takeoff.records.reported import reported, taking
from takeoff.records.terms.errors import RecordError
from takeoff.sheets.cells.columns import Column
from takeoff.sheets.cells.kinds import Choice, Day, Moment, Reference, Text, Whole, YesNo, one_of
from takeoff.sites.models import Site

State = ArrivedPackage.State


class GateKeeper(Keeper):
    """Keeps what came to the gate."""

    order = 1

    def lock(self, site: Site, filings: Sequence[Filing]) -> None:
        """Lock the shipments that are named: two who find a further package of one make it once."""
        names = {filing.row.said.get("shipment") for filing in filings}
        names |= {(filing.reverses.row or {}).get("shipment") for filing in filings if filing.reverses}
        lock(Shipment.objects.of(site).filter(name__in=names - {None}))

    def keep(self, site: Site, filings: Sequence[Filing], *, again: bool = False) -> None:
        """Keep each record, or put on it why not."""
        for kind, mine in by_kind(filings).items():
            kind.keep(site, mine)
        for kind, mine in taking_back(filings).items():
            kind.take_back(site, mine)


GATE_KEEPER = GateKeeper()


class GateKind(RecordKind):
    """Something that is reported of the gate."""

    permission = GATE
    keeper = GATE_KEEPER
    looked_at = "shipment"

    def subject(self, said: Mapping[str, Any]) -> str:
        """Return the shipment that it is about."""
        return f"shipment {said['shipment']}"

    @abstractmethod
    def keep(self, site: Site, filings: Sequence[Filing]) -> None:
        """Keep each record, or put on it why not."""

    @abstractmethod
    def take_back(self, site: Site, filings: Sequence[Filing]) -> None:
        """Let what was reported count no longer."""


class ShipmentsFoundKind(GateKind):
    """Shipments that stood at the gate and that nobody had announced."""

    name = "shipments_found"
    founds = "shipment"
    did = "Truck made"
    order = 196
    rank = -2
    help = "A truck that no list announces. Its list can come later, under the same name."
    columns = (
        ID,
        Column("shipment", Text(60), "What it is called until its list comes.", required=True, example="SHP-09"),
        AT,
        Column("supplier", Reference(to="supplier"), "Who sent it.", default_help="not known"),
        Column("carrier", Text(120), "Who brought it.", default="", default_help="not said"),
        BY,
    )

    def brings(self, said: Mapping[str, Any]) -> tuple[str, ...]:
        """Return the shipment that it makes."""
        return (f"shipment {said['shipment']}",)

    def keep(self, site: Site, filings: Sequence[Filing]) -> None:
        """Make the shipments; one that is there already is refused."""
        names = [filing["shipment"] for filing in filings]
        there = set(Shipment.objects.of(site).filter(name__in=names).values_list("name", flat=True))
        made = []
        for filing in filings:
            name = filing["shipment"]
            if name in there:
                text = f"{name} is known here already: take the truck in there."
                filing.error = RecordError(text, column="shipment", found=name, expected="a name of its own")
                continue
            there.add(name)
            said = {column: filing[column] for column in ("supplier", "carrier")}
            made.append(Shipment(site=site, name=name, found_at=filing.at, **said))
        make_shipments(made)

    def take_back(self, site: Site, filings: Sequence[Filing]) -> None:
        """Take the shipments away, unless something came of them."""
        names = {filing: (filing.reverses.row or {})["shipment"] for filing in filings if filing.reverses}
        rows = (
            Shipment.objects.of(site).filter(name__in=names.values()).prefetch_related("arrivals", "receipts", "lines")
        )
        there = {shipment.name: shipment for shipment in rows}
        gone = []
        for filing, name in names.items():
            shipment = there.get(name)
            if shipment and (shipment.arrivals.all() or shipment.receipts.all() or shipment.lines.all()):
                filing.error = RecordError(f"{shipment} has a list, a truck or counts by now: it stays.")
            elif shipment:
                gone.append(shipment)
        forget_shipments(gone)


class ArrivalsKind(GateKind):
    """Trucks at the gate."""

    name = "arrivals"
    did = "Truck taken in"
    order = 198
    rank = -1
    help = "A truck at the gate: how many packages came, which are missing or damaged outside, what was signed."
    may_need_a_look = True
    columns = (
        ID,
        Column("shipment", Reference(to="shipment"), "The shipment that it brings, or a part of.", required=True),
        Column("count", Whole(), "How many packages are here.", required=True),
        AT,
        Column(
            "missing", Text(500), "Packages that did not come, by name, with commas.", default="", default_help="none"
        ),
        Column("damaged", Text(500), "Packages that are damaged outside.", default="", default_help="none"),
        Column("further", Text(500), "Packages that no list names.", default="", default_help="none"),
        Column("carrier", Text(120), "Who brought it.", default="", default_help="as the shipment says"),
        Column("paper", Text(60), "The number of the driver's paper.", default="", default_help="not said"),
        Column("seal", Text(60), "The number of the seal.", default="", default_help="none"),
        Column("seal_whole", YesNo(), "Whether the seal was whole.", default_help="not said"),
        Column(
            "words",
            Choice(tuple(Arrival.Words.values)),
            "What it was signed with.",
            default="",
            default_help="not said",
        ),
        Column("written", Text(500), "What was written on the driver's paper.", default="", default_help="nothing"),
        Column(
            "not_before", Moment(), "The earliest it can have come, where nobody saw it.", default_help="seen at `at`"
        ),
        Column("standing", Text(120), "Where it was put down.", default="", default_help="not said"),
        Column("note", Text(300), "What else there is to say.", default="", default_help="none"),
        BY,
    )

    def keep(self, site: Site, filings: Sequence[Filing]) -> None:
        """Keep the trucks, with the packages that their lists name and those that no list does."""
        listed: dict[int, list[str]] = {}
        shipments = {filing["shipment"].pk: filing["shipment"] for filing in filings}
        for package in Package.objects.of(site).filter(shipment__in=shipments):
            listed.setdefault(package.shipment_id, []).append(package.name)
        arrivals: list[tuple[Arrival, dict[str, str]]] = []
        for filing in filings:
            names = listed.get(filing["shipment"].pk, [])
            states = _states(filing, [*names, *names_in(filing["further"])])
            if filing.error:
                continue
            arrivals.append((_arrival(filing, len(names)), states))
            here = sum(state != State.MISSING for state in states.values())
            if states and here != filing["count"]:
                filing.look.append(f"{filing['count']} packages were counted; by their names {here} are here.")
        wanted = [(shipments[arrival.shipment_id], name) for arrival, states in arrivals for name in states]
        made = make_packages(site=site, wanted=wanted)
        packages = [
            ArrivedPackage(arrival=arrival, package=made[arrival.shipment_id, name], state=state)
            for arrival, states in arrivals
            for name, state in states.items()
        ]
        record_arrivals([arrival for arrival, _ in arrivals], packages)

    def take_back(self, site: Site, filings: Sequence[Filing]) -> None:
        """Add that the trucks never were."""
        ids = {filing.reverses.event_id: filing for filing in filings if filing.reverses}
        rows = Arrival.objects.of(site).filter(event_id__in=ids, takes_back=None).select_related("taken_back")
        back = []
        for arrival in rows:
            filing = ids[arrival.event_id]
            if hasattr(arrival, "taken_back"):
                filing.error = RecordError(f"{arrival} was taken back before.", column="reverses")
                continue
            back.append(Arrival(shipment_id=arrival.shipment_id, **taking(arrival, filing)))
        record_arrivals(back)


class TruckCallsKind(GateKind):
    """What a dispatcher says of a truck."""

    name = "truck_calls"
    did = "Noted what the dispatcher says"
    order = 197
    rank = -1
    help = "What a dispatcher says of a truck on its way. The last one sets the day of its shipment."
    columns = (
        ID,
        Column("shipment", Reference(to="shipment"), "The shipment that it brings.", required=True),
        Column("expected", Day(), "The day on which it is to come.", required=True),
        AT,
        Column("hour", Text(40), "When on that day.", default="", default_help="not said", example="about 14:00"),
        Column("lift", Text(60), "The heaviest piece.", default="", default_help="not said", example="2,400 lb"),
        Column("crane", YesNo(), "Whether a crane is to stand by.", default_help="not said"),
        Column("note", Text(300), "What else there is to say.", default="", default_help="none"),
        BY,
    )

    def keep(self, site: Site, filings: Sequence[Filing]) -> None:
        """Keep what was said, and let the latest of each shipment set its day."""
        columns = ("shipment", "expected", "hour", "lift", "crane", "note")
        calls = [TruckCall(**reported(filing), **{name: filing[name] for name in columns}) for filing in filings]
        record_calls(site, calls)

    def take_back(self, site: Site, filings: Sequence[Filing]) -> None:
        """Let what was said count no longer: the call before it rules again, or what was known before any."""
        ids = {filing.reverses.event_id: filing for filing in filings if filing.reverses}
        back = []
        for call in TruckCall.objects.of(site).filter(event_id__in=ids, takes_back=None).select_related("taken_back"):
            filing = ids[call.event_id]
            if hasattr(call, "taken_back"):
                filing.error = RecordError(f"{call} was taken back before.", column="reverses")
                continue
            kept = {"shipment_id": call.shipment_id, "expected": call.expected, "before": call.before}
            back.append(TruckCall(**kept, **taking(call, filing)))
        record_calls(site, back)


def names_in(cell: str) -> Iterator[str]:
    """Yield the names of a list, each once."""
    yield from dict.fromkeys(filter(None, (name.strip() for name in cell.split(","))))


def _states(filing: Filing, there: Sequence[str]) -> dict[str, str]:
    """Return how each package of a shipment is; what no list names is an error."""
    states = dict.fromkeys(there, State.HERE.value)
    for column, state in (("missing", State.MISSING), ("damaged", State.DAMAGED)):
        for name in names_in(filing[column]):
            if name in there:
                states[name] = state.value
                continue
            known = (
                f"a package of {filing['shipment']}: {one_of(there, name)}" if there else "none: its list names none"
            )
            text = f"{filing['shipment']} has no package {name}."
            filing.error = RecordError(text, column=column, found=name, expected=known)
    return states


def _arrival(filing: Filing, listed: int) -> Arrival:
    """Return a truck; where it was signed with the words proposed, those are what was written."""
    said = ("shipment", "count", "carrier", "paper", "seal", "seal_whole", "words", "standing", "note")
    proposed = words_for_paper(
        listed=listed,
        here=filing["count"],
        missing=list(names_in(filing["missing"])),
        damaged=list(names_in(filing["damaged"])),
        seal_broken=filing["seal_whole"] is False,
    )
    written = filing["written"] or (proposed if filing["words"] == Arrival.Words.PROPOSED else "")
    return Arrival(
        not_before=filing["not_before"] and min(filing["not_before"], filing.at),
        written=written[:500],
        **reported(filing),
        **{name: filing[name] for name in said},
    )


register_kind(ShipmentsFoundKind())
register_kind(ArrivalsKind())
register_kind(TruckCallsKind())
