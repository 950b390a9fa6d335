"""A count of goods that no list named, made anew once their list has come: as it was judged, where it was put."""

from __future__ import annotations

from dataclasses import replace

from kits.receiving.counting.counts_again import CountMade
from kits.receiving.one_count import Counting
from kits.receiving.packing_lists import PackingLists
from kits.stock.books.balances import Books
from kits.stock.books.errors import LedgerError
from kits.stock.models import Posting
from kits.stock.places import Places
from kits.stock.planned_acts import Act, PlannedMove
from takeoff.records.record_kinds import Filing


class ListedLater(Counting):
    """A count that takes the place of one of the same goods, which it answers the packing list for."""

    def __init__(self, places: Places, filing: Filing, lists: PackingLists) -> None:
        """Find the count. Raises LedgerError where it does not stand, is answered for, or is not on the list."""
        standing = lists.standing(filing["shipment"], filing["item"])
        found = next((count for count in standing if count.event == filing["instead"]), None)
        if found is None or None not in found.parts or not isinstance(lists.sources[found], Posting):
            raise self._refused(filing, "is no count of it that waits for its list")
        self.old: CountMade = found
        package = next((each for each in lists.packages.values() if each.pk == found.package), None)
        answers = lists.answered(filing["shipment"], filing["item"], package)
        if not answers:
            raise self._refused(filing, "is of goods that the list does not name")
        super().__init__(filing, lists, replace(found, event=filing.id, at=filing.at, parts={}), answers)
        self.supplier = places.supplier(self.shipment.supplier)

    def act(self) -> Act:
        """Return its act."""
        return self.act_of((self.item,), (self.supplier,))

    def steps(self, books: Books) -> list[PlannedMove]:
        """Return the moves of the count that it takes the place of, and say its lots' last days again."""
        if self.old not in self.lists.sources:
            raise self._refused(self.filing, "was counted again meanwhile")
        self.replacing = {self.old: self.made}
        whole = self.lists.told[self.old]
        self.shared(whole)
        for said in whole.receipt.posting.lot_days.all():
            books.set_expiry(said.item_id, said.lot, books.expires(said.item_id, said.lot))
        return [replace(move, source=self.supplier) for move in self.lists.moves_of(self.old)]

    def why(self, by: CountMade) -> str:
        """Return why a count is taken back that `by` takes the place of."""
        return f"the list of {self.shipment} names it now"

    @staticmethod
    def _refused(filing: Filing, why: str) -> LedgerError:
        return LedgerError(
            f"{filing['instead']} {why}.",
            column="instead",
            found=filing["instead"],
            expected="the id of a count that no list named then, and the list does now",
        )
