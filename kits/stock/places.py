"""A site's places, found or made as work asks for them."""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum

from django.db import models

from kits.promises.models import Kit
from kits.stock.books.errors import UnknownPlaceError
from takeoff.catalogue.models import Supplier
from takeoff.runs.models import Run
from takeoff.sites.models import Place, Site

DEFAULT_BIN = "Store"
# Places of which a site has one; their names are also how a person names them.
SINGLE = {
    Place.Kind.SCRAP: "Scrap",
    Place.Kind.LOST_FOUND: "Lost and found",
    Place.Kind.RETURNED: "Returned to supplier",
}
QUARANTINE = "Quarantine"


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


GOOD_KINDS = [kind for kind in Place.Kind if kind.holds_good_stock]
# What a person may name as a bin: good stock, and what is held back.
NAMED_KINDS = [Place.Kind.KIT_BOX, Place.Kind.BIN, Place.Kind.QUARANTINE]
Work = tuple[str, int, str]  # kind, run, stage


class Places:
    """
    Finds a site's places and makes those that must be there. Made for one act or one load, not to be kept.

    After `load_all` nothing is looked up one by one any more, which keeps a load's queries few.
    """

    def __init__(self, site: Site) -> None:
        self.site = site
        self._by_name: dict[tuple[str, str], Place] = {}
        self._by_work: dict[Work, Place] = {}
        self._complete = False
        self._good: list[Place] | None = None
        self._owned: tuple[list[Place], dict[int | None, dict[int, Place]]] | None = None
        self._kits: dict[str, Kit] | None = None

    def load_all(
        self,
        *,
        work: Iterable[tuple[Place.Kind, Run, str]] = (),
        bins: Iterable[str] = (),
        boxes: Iterable[Kit] = (),
    ) -> None:
        """Read all places in one query, and make the missing ones of `work`, `bins` and `boxes` in a few more."""
        self._kits = {folded(kit.name): kit for kit in self._kits_with_a_run()}
        bins = list(bins)
        self._make_boxes([*boxes, *(self._kits[folded(name)] for name in bins if folded(name) in self._kits)])
        for place in self._query():
            self._remember(place)
        self._complete = True
        missing: dict[object, Place] = {}
        for kind, run, stage in work:
            wanted = (kind, run.pk, stage)
            if wanted not in self._by_work and wanted not in missing:
                missing[wanted] = self._place_of_work(kind, run, stage)
        for why in Why:
            if self.named(why.place) is None:
                missing[folded(why.place)] = Place(site=self.site, kind=Place.Kind.QUARANTINE, name=why.place)
        for name in filter(None, map(_plain, bins)):
            if self.named(name) is None and folded(name) not in missing:
                missing[folded(name)] = Place(site=self.site, kind=Place.Kind.BIN, name=_plain(name))
        if missing:
            # Somebody else may make the same place at the same moment: what is there is read again.
            Place.objects.bulk_create(missing.values(), ignore_conflicts=True)
            for place in self._query():
                self._remember(place)
        self._good = None

    def supplier(self, supplier: Supplier) -> Place:
        """Return where a supplier's goods come from."""
        return self._get_or_make(Place.Kind.SUPPLIER, supplier.name)

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

    def transit(self, other: Site) -> Place:
        """Return what is on the way to `other`, still in this site's books."""
        return self._get_or_make(Place.Kind.TRANSIT, other.slug)

    def other_site(self, other: Site) -> Place:
        """Return the far end of goods that went to `other` or came from it."""
        return self._get_or_make(Place.Kind.OTHER_SITE, other.slug)

    def handed_out(self, run: Run, stage: str) -> Place:
        """Return what a stage of a run has been handed."""
        return self._work_place(Place.Kind.HANDED_OUT, run, stage)

    def spoiled(self, run: Run, stage: str) -> Place:
        """Return what a stage of a run has spoiled: used up all the same."""
        return self._work_place(Place.Kind.SPOILED, run, stage)

    def box_of(self, kit: Kit) -> Place:
        """Return a kit's box, made when the kit has none."""
        if kit.box_id is None:
            kit.box = self._get_or_make(Place.Kind.KIT_BOX, kit.name)
            kit.save(update_fields=["box"])
            self._query_again(kit.box)
            self._good = None
        assert kit.box is not None
        return kit.box

    def named(self, name: str) -> Place | None:
        """Return the bin, kit box or quarantine of that name, in any case, or None."""
        wanted = folded(name)
        if not self._complete and all((kind, wanted) not in self._by_name for kind in NAMED_KINDS):
            for place in self._query().filter(kind__in=NAMED_KINDS, name__iexact=_plain(name)):
                self._remember(place)
        return next((self._by_name[kind, wanted] for kind in NAMED_KINDS if (kind, wanted) in self._by_name), None)

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
        """Return the place of that name, made as a bin (or as the box of the kit of that name) when there is none."""
        name = _plain(name) or DEFAULT_BIN
        place = self.named(name)
        if place is None and (why := next((why for why in Why if folded(why.place) == folded(name)), None)) is not None:
            place = self.quarantine(why)
        if place is None:
            kit = self._kit_named(name)
            place = self.box_of(kit) if kit else self._get_or_make(Place.Kind.BIN, name)
        return place

    def owner(self, place: Place) -> Run | None:
        """Return the run that a kit box serves, or None for what is pooled."""
        kit: Kit | None = getattr(place, "kit", None) if place.kind == Place.Kind.KIT_BOX else None
        return kit.run if kit else None

    def good(self) -> list[Place]:
        """Return every bin and kit box."""
        if self._good is None:
            if self._complete:
                self._good = [place for (kind, _), place in self._by_name.items() if Place.Kind(kind).holds_good_stock]
            else:
                self._good = list(self._query().filter(kind__in=GOOD_KINDS))
        return self._good

    def boxes_of(self, run: Run) -> dict[int, Place]:
        """Return the boxes of a run's kits, by key."""
        return self._by_owner().get(run.pk, {})

    def pooled(self) -> dict[int, Place]:
        """Return the bins, and boxes of kits that serve no one run, by key."""
        return self._by_owner().get(None, {})

    def _by_owner(self) -> dict[int | None, dict[int, Place]]:
        good = self.good()
        if self._owned is None or self._owned[0] is not good:
            owned: dict[int | None, dict[int, Place]] = {}
            # By name, so that what is taken does not hang on which bin was made first.
            for place in sorted(good, key=lambda place: (folded(place.name), place.kind)):
                run = self.owner(place)
                owned.setdefault(run.pk if run else None, {})[place.pk] = place
            self._owned = (good, owned)
        return self._owned[1]

    def _query(self) -> models.QuerySet[Place]:
        return Place.objects.of(self.site).select_related("kit__run")

    def _query_again(self, place: Place) -> None:
        self._remember(self._query().get(pk=place.pk))

    def _remember(self, place: Place) -> None:
        self._by_name[place.kind, folded(place.name)] = place
        if place.run_id is not None:
            self._by_work[place.kind, place.run_id, place.stage] = place

    def _single(self, kind: Place.Kind) -> Place:
        return self._get_or_make(kind, SINGLE[kind])

    def _get_or_make(self, kind: Place.Kind, name: str) -> Place:
        place = self._by_name.get((kind, folded(name)))
        if place is None:
            place, made = Place.objects.of(self.site).get_or_create(site=self.site, kind=kind, name=name)
            self._remember(place)
            if made and kind in GOOD_KINDS:
                self._good = None
        return place

    def _work_place(self, kind: Place.Kind, run: Run, stage: str) -> Place:
        place = self._by_work.get((kind, run.pk, stage))
        if place is None:
            wanted = self._place_of_work(kind, run, stage)
            place, _ = Place.objects.of(self.site).get_or_create(
                site=self.site, kind=kind, run=run, stage=stage, defaults={"name": wanted.name}
            )
            self._remember(place)
        return place

    def _place_of_work(self, kind: Place.Kind, run: Run, stage: str) -> Place:
        if run.site_id != self.site.pk:
            raise ValueError(f"run {run} belongs to another site than {self.site}")
        return Place(site=self.site, kind=kind, name=f"{run.name} {stage}", run=run, stage=stage)

    def _kits_with_a_run(self) -> models.QuerySet[Kit]:
        return Kit.objects.of(self.site).filter(run__isnull=False)

    def _kit_named(self, name: str) -> Kit | None:
        if self._kits is not None:
            return self._kits.get(folded(name))
        return self._kits_with_a_run().filter(name__iexact=_plain(name)).first()

    def _make_boxes(self, kits: list[Kit]) -> None:
        boxless = list({kit.pk: kit for kit in kits if kit.box_id is None}.values())
        boxes = [Place(site=self.site, kind=Place.Kind.KIT_BOX, name=kit.name) for kit in boxless]
        for kit, box in zip(boxless, Place.objects.bulk_create(boxes), strict=True):
            kit.box = box
        self._kits_with_a_run().bulk_update(boxless, ["box"])


def _plain(name: str) -> str:
    return " ".join(name.split())


def folded(name: str) -> str:
    """Return a place's name as it is compared: any case, any spaces."""
    return _plain(name).casefold()
