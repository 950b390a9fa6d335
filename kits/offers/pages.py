"""What the page of offers shows, in a number of queries that does not grow with the offers."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from kits.offers.choice.best_offer import Buy, Quote, standing, ways_to_buy
from kits.offers.choice.price_steps import PriceChart, draw_prices
from kits.shortages.item_books import lead_time, read_item_books
from kits.shortages.queries import terms_of
from kits.shortages.reckon.item import Terms, reckon
from takeoff.catalogue.models import Item, Offer
from takeoff.sites.models import Site
from takeoff.units.exact import to_ticks


@dataclass(frozen=True, slots=True)
class OfferRow:
    """One price of an offer as it stands today. buy : what is to be ordered by it, None where nothing is."""

    quote: Quote
    lead_days: int | None
    working: bool
    standing: bool
    over: bool
    buy: Buy | None
    first: bool


@dataclass(frozen=True, slots=True)
class ItemOffers:
    """
    What suppliers offer for an item, side by side.

    order : what is to be ordered of it [ticks], need_by : the day to have it. best : which way to buy that comes first.
    """

    item: Item
    today: date
    order: int
    need_by: date | None
    rows: tuple[OfferRow, ...]
    chart: PriceChart | None

    @property
    def best(self) -> Buy | None:
        """The way to buy what is to be ordered that stands first."""
        return next((row.buy for row in self.rows if row.first), None)


def offers_page(site: Site) -> list[ItemOffers]:
    """Return the items that anybody made an offer for, those to be ordered first, by the day to have them."""
    today = site.today()
    terms, gathered = terms_of(site, today), read_item_books(site, today)
    offers: dict[int, list[Offer]] = defaultdict(list)
    for offer in Offer.objects.of(site).select_related("supplier", "item").order_by("pk"):
        offers[offer.item_id].append(offer)
    found = []
    for key, of_item in offers.items():
        line = reckon(gathered.books[key], terms)
        found.append(item_offers(of_item, terms, order=line.order, need_by=line.need_by))
    return sorted(found, key=lambda one: (not one.order, one.need_by or date.max, one.item.code))


def item_offers(offers: Sequence[Offer], terms: Terms, *, order: int, need_by: date | None) -> ItemOffers:
    """Return the offers for one item, with the one to take for what is to be ordered. offers : at least one."""
    today = terms.as_of
    quotes = {offer.pk: quote_of(offer, terms) for offer in offers}
    holding = standing(quotes.values(), today)
    ways = ways_to_buy(holding, order, by=need_by) if order > 0 else ()
    bought = {way.quote.key: way for way in ways}
    rows = [
        OfferRow(
            quote=quotes[offer.pk],
            lead_days=_lead_days(offer),
            working=offer.supplier.lead_time_in == offer.supplier.CountedIn.WORKING_DAYS,
            standing=quotes[offer.pk] in holding,
            over=offer.valid_until is not None and offer.valid_until < today,
            buy=bought.get(offer.pk),
            first=bool(ways) and ways[0].quote.key == offer.pk,
        )
        for offer in offers
    ]
    rows.sort(key=lambda row: (not row.standing, row.quote.supplier, -row.quote.offered.toordinal(), *_tier(row)))
    return ItemOffers(offers[0].item, today, order, need_by, tuple(rows), draw_prices(quotes.values(), today))


def quote_of(offer: Offer, terms: Terms) -> Quote:
    """Return an offer as the choice takes it, ordered on the day of the terms; its supplier should be at hand."""
    lead = lead_time(_lead_days(offer), offer.supplier)
    return Quote(
        key=offer.pk,
        supplier=offer.supplier.name,
        part=offer.part,
        offered=offer.offered,
        price=offer.price,
        from_quantity=to_ticks(offer.from_quantity),
        pack=to_ticks(offer.pack),
        least=to_ticks(offer.min_order),
        comes_on=terms.working_days.after(terms.as_of, lead) if lead else None,
        valid_until=offer.valid_until,
    )


def _lead_days(offer: Offer) -> int | None:
    return offer.supplier.lead_time_days if offer.lead_time_days is None else offer.lead_time_days


def _tier(row: OfferRow) -> tuple[str, int]:
    return row.quote.part, row.quote.from_quantity
