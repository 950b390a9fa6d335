"""A site's places, found or made as work asks for them."""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum

from kits.promises.models import Kit
from kits.promises.queries import kit_of
from kits.promises.services import make_kit_boxes
from kits.stock.books.errors import UnknownPlaceError
from takeoff.catalogue.models import Supplier
from takeoff.database.folding import first_spellings, folded, plain
from takeoff.runs.models import Run
from takeoff.sites.models import GOOD_KINDS, Place, Site
from takeoff.sites.services import make_bins

DEFAULT_BIN = "Store"
# Places of which a site has one; their names are also how a person names them.
SINGLE = {
    Place.Kind.SCRAP: "Scrap",
    Place.Kind.LOST_FOUND: "Lost and found",
    Place.Kind.RETURNED: "Returned to supplier",
}
QUARANTINE = "Quarantine"
UNKNOWN_SENDER = "Sender not known"


class Why(StrEnum):
    """Why goods are on hold: each in a place of its own, so that what is damaged never lies with what is refused."""

    UNDECIDED = ""
    DAMAGED = "damaged"
    WRONG = "wrong item"
    REFUSED = "refused"

    @property
    def place(self) -> str:
        """The name of the place."""
        return f"{QUARANTINE}, {self.value}" if self else QUARANTINE


# What hand-outs are taken from.
PICKED_KINDS = [kind for kind in GOOD_KINDS if kind != Place.Kind.GANG_BOX]
HOLDS = {folded(why.place): why for why in Why}
# What a person may name as a bin: good stock, and what is held back.
NAMED_KINDS = [Place.Kind.KIT_BOX, Place.Kind.BIN, Place.Kind.QUARANTINE, Place.Kind.GANG_BOX]
Work = tuple[str, int, str]  # kind, run, stage


def box_of_crew(crew: str) -> str:
    """Return what the gang box of a crew is called."""
    return f"{plain(crew)}'s box"


class Places:
    """A site's places, read at once, with those made that must be there. For one act or one batch, not to be kept."""

    def __init__(self, site: Site) -> None:
        self.site = site
        self._kits = {folded(kit.name): kit for kit in Kit.objects.of(site).filter(run__isnull=False)}
        self._owned: dict[int | None, dict[int, Place]] | None = None  # by run, once it is asked for
        self._crew_boxes: dict[str, str] | None = None  # crews by the names of their boxes, once they are asked for
        self._read()

    def make(
        self,
        *,
        work: Iterable[tuple[Place.Kind, Run, str]] = (),
        bins: Iterable[str] = (),
        boxes: Iterable[Kit] = (),
        crates: Iterable[tuple[str, Kit]] = (),
        gangs: Iterable[str] = (),
    ) -> None:
        """
        Make the places of `work`, `bins` and `boxes` that are missing, in a number of queries that does not grow.

        gangs : names of which some may be those of crews' gang boxes; such a box is made, the others are left alone.
        crates : bins by name, each with a kit for which something is put there. One that is new, and named for no other
        kit and nothing else, serves that kit.
        """
        bins, crates = list(bins), list(crates)
        pooled = {folded(name or DEFAULT_BIN) for name in [*bins, DEFAULT_BIN]}
        kits_of: dict[str, set[Kit]] = {}
        for name, kit in crates:
            kits_of.setdefault(folded(name), set()).add(kit)
        named = first_spellings(name or DEFAULT_BIN for name in [*bins, *(name for name, _ in crates)])
        wanted = [*boxes, *(self._kits[key] for key in named if key in self._kits)]
        kits = {kit.name: kit for kit in wanted if self._by_name.get((Place.Kind.KIT_BOX, kit.name)) is None}
        missing = [Place(site=self.site, kind=Place.Kind.KIT_BOX, name=name) for name in kits]
        for kind, run, stage in dict.fromkeys(work):
            if (kind, run.pk, stage) not in self._by_work:
                missing.append(self._place_of_work(kind, run, stage))
        holds = [why.place for why in Why if (Place.Kind.QUARANTINE, why.place) not in self._by_name]
        missing += [Place(site=self.site, kind=Place.Kind.QUARANTINE, name=name) for name in holds]
        new_bins = [name for name in named.values() if self.named(name) is None and not self.is_special(name)]
        new_boxes = [name for name in first_spellings(gangs).values() if self.named(name) is None]
        for crew in filter(None, (self.crew_boxes().get(folded(name)) for name in new_boxes)):
            missing.append(Place(site=self.site, kind=Place.Kind.GANG_BOX, name=box_of_crew(crew), crew=crew))
        if not missing and not new_bins:
            return
        # Somebody else may make the same place at the same moment: what is there is read again.
        Place.objects.bulk_create(missing, ignore_conflicts=True)
        make_bins(site=self.site, names=new_bins)
        self._read()
        serving = [(kit, self._by_name[Place.Kind.KIT_BOX, kit.name]) for kit in kits.values()]
        for name in new_bins:
            if (key := folded(name)) not in pooled and len(kits_of[key]) == 1:
                serving += [(kit, self._by_folded[Place.Kind.BIN, key]) for kit in kits_of[key]]
        if serving:
            make_kit_boxes(serving)
            self._read()

    def supplier(self, supplier: Supplier | None) -> Place:
        """Return where a supplier's goods come from, or those of whom nobody knows who sent them."""
        return self._get_or_make(Place.Kind.SUPPLIER, supplier.name if supplier else UNKNOWN_SENDER)

    def suppliers(self) -> list[Place]:
        """Return where goods have come from so far."""
        return [place for (kind, _), place in self._by_name.items() if kind == Place.Kind.SUPPLIER]

    def quarantine(self, why: Why = Why.UNDECIDED) -> Place:
        """Return where goods are held that are damaged, wrong, refused, or wait for a decision."""
        return self._get_or_make(Place.Kind.QUARANTINE, why.place)

    def holding(self, name: str, *, column: str = "bin") -> dict[int, Place]:
        """
        Return the places that a name means, by key: for *Quarantine*, or nothing, all in which goods are held.

        Raises UnknownPlaceError when there is none of that name.
        """
        if folded(name) in ("", folded(QUARANTINE)):
            return {place.pk: place for place in map(self.quarantine, Why)}
        place = self.known(name, column=column)
        return {place.pk: place}

    def scrap(self) -> Place:
        """Return where scrap goes."""
        return self._single(Place.Kind.SCRAP)

    def lost_found(self) -> Place:
        """Return the far end of what counts find missing or too many."""
        return self._single(Place.Kind.LOST_FOUND)

    def returned(self) -> Place:
        """Return where goods go that are sent back to a supplier."""
        return self._single(Place.Kind.RETURNED)

    def transit(self, slug: str) -> Place:
        """Return what is on the way to another site, still in this site's books."""
        return self._get_or_make(Place.Kind.TRANSIT, slug)

    def other_site(self, slug: str) -> Place:
        """Return the far end of goods that went to another site or came from it."""
        return self._get_or_make(Place.Kind.OTHER_SITE, slug)

    def handed_out(self, run: Run, stage: str) -> Place:
        """Return what a stage of a run has been handed."""
        return self._work_place(Place.Kind.HANDED_OUT, run, stage)

    def spoiled(self, run: Run, stage: str) -> Place:
        """Return what a stage of a run has spoiled: used up all the same."""
        return self._work_place(Place.Kind.SPOILED, run, stage)

    def box_of(self, kit: Kit) -> Place:
        """Return the box that is called as a kit is, made when there is none."""
        if (Place.Kind.KIT_BOX, kit.name) not in self._by_name:
            self.make(boxes=[kit])
        return self._by_name[Place.Kind.KIT_BOX, kit.name]

    def named(self, name: str) -> Place | None:
        """Return the bin, kit box or quarantine of that name, in any case, or None."""
        wanted = folded(name)
        return next((self._by_folded[kind, wanted] for kind in NAMED_KINDS if (kind, wanted) in self._by_folded), None)

    def is_special(self, name: str) -> bool:
        """Return whether a name means a kit's or a crew's box, or what is on hold: no bin is called so."""
        return folded(name) in self._kits or folded(name) in HOLDS or folded(name) in self.crew_boxes()

    def crew_boxes(self) -> dict[str, str]:
        """Return the crews of the site by the folded names of the gang boxes that they have or may have."""
        if self._crew_boxes is None:
            of_runs = Run.objects.of(self.site).exclude(crew="").order_by("crew").values_list("crew", flat=True)
            crews = first_spellings([*self.site.names, *of_runs.distinct()]).values()
            self._crew_boxes = {folded(box_of_crew(crew)): crew for crew in crews}
        return self._crew_boxes

    def gang_box(self, crew: str) -> Place:
        """Return the gang box of a crew. Raises UnknownPlaceError where nobody is called so."""
        place = self.named(box_of_crew(crew))
        if place is None or place.kind != Place.Kind.GANG_BOX:
            raise UnknownPlaceError(
                f"There is no crew {crew!r} here.",
                column="crew",
                found=crew,
                expected="a crew that a run names, or that was added to the names of the site",
                lacks=f"crew {folded(crew)}",
            )
        return place

    def known(self, name: str, *, column: str = "bin") -> Place:
        """Return the place of that name. Raises UnknownPlaceError when there is none."""
        place = self.named(name)
        if place is None:
            raise UnknownPlaceError(
                f"There is no bin {name!r}; a receipt, return or count makes one.",
                column=column,
                found=name,
                expected="a bin that a receipt, return or count has made",
                lacks=f"bin {folded(name)}",
            )
        return place

    def bin(self, name: str = "") -> Place:
        """
        Return the place of that name, made as a bin (or as the box of the kit of that name) when there is none.

        Raises UnknownPlaceError for a crew's gang box.
        """
        name = name or DEFAULT_BIN
        if (place := self.named(name)) is None:
            self.make(bins=[name])
            place = self.named(name)
        if place is None or place.kind == Place.Kind.GANG_BOX:
            raise UnknownPlaceError(
                f"{name} is the gang box of a crew: it is filled by a move from the store, and counted as such.",
                column="bin",
                found=name,
                expected="a bin or kit box",
            )
        return place

    def owner(self, place: Place) -> Run | None:
        """Return the run whose kit a place serves, or None for what is pooled."""
        kit = kit_of(place)
        return kit.run if kit else None

    def good(self) -> list[Place]:
        """Return every bin and kit box. Out of a crew's gang box nobody is handed anything."""
        return [place for places in self._by_owner().values() for place in places.values()]

    def boxes_of(self, run: Run) -> dict[int, Place]:
        """Return the boxes of a run's kits, by key."""
        return self._by_owner().get(run.pk, {})

    def pooled(self) -> dict[int, Place]:
        """Return the bins, and boxes of kits that serve no one run, by key."""
        return self._by_owner().get(None, {})

    def _by_owner(self) -> dict[int | None, dict[int, Place]]:
        if self._owned is None:
            self._owned = {}
            good = [place for place in self._by_name.values() if place.kind in PICKED_KINDS]
            # By name, so that what is taken does not hang on which bin was made first.
            for place in sorted(good, key=lambda place: (folded(place.name), place.kind)):
                run = self.owner(place)
                self._owned.setdefault(run.pk if run else None, {})[place.pk] = place
        return self._owned

    def _read(self) -> None:
        self._by_name: dict[tuple[str, str], Place] = {}
        self._by_folded: dict[tuple[str, str], Place] = {}
        self._by_work: dict[Work, Place] = {}
        for place in Place.objects.of(self.site).select_related("kit_box__kit__run").order_by("pk"):
            self._remember(place)

    def _remember(self, place: Place) -> None:
        self._by_name[place.kind, place.name] = place
        self._by_folded.setdefault((place.kind, place.folded), place)
        if place.run_id is not None:
            self._by_work[place.kind, place.run_id, place.stage] = place
        self._owned = None

    def _single(self, kind: Place.Kind) -> Place:
        return self._get_or_make(kind, SINGLE[kind])

    def _get_or_make(self, kind: Place.Kind, name: str) -> Place:
        if (kind, name) not in self._by_name:
            place, _ = Place.objects.of(self.site).get_or_create(site=self.site, kind=kind, name=name)
            self._remember(place)
        return self._by_name[kind, name]

    def _work_place(self, kind: Place.Kind, run: Run, stage: str) -> Place:
        if (kind, run.pk, stage) not in self._by_work:
            self.make(work=[(kind, run, stage)])
        return self._by_work[kind, run.pk, stage]

    def _place_of_work(self, kind: Place.Kind, run: Run, stage: str) -> Place:
        if run.site_id != self.site.pk:
            raise ValueError(f"run {run} belongs to another site than {self.site}")
        return Place(site=self.site, kind=kind, name=f"{run.name} {stage}", run=run, stage=stage)
