"""Random histories of one item: whatever was promised, sent, counted, handed out, lost and spoiled."""

from datetime import date, timedelta
from fractions import Fraction

from hypothesis import strategies as st

from kits.shortages.reckon.item import ItemBooks, OrderedLine, PackedLine, StageBook, Terms
from kits.shortages.reckon.lines import ShortItem
from kits.shortages.reckon.projection import LotStock
from kits.shortages.reckon.usage import PRIORS, Prior
from kits.shortages.reckon.working_days import LeadTime

AS_OF = date(2026, 5, 4)
STAGES = ("enclosure", "cables", "seals", "terminations", "covers")

quantities = st.integers(min_value=0, max_value=2_000_000)
days = st.integers(min_value=-40, max_value=90).map(lambda n: AS_OF + timedelta(days=n))
maybe_days = st.none() | days

lots = st.lists(st.builds(LotStock, quantity=quantities, expires=maybe_days), max_size=4).map(tuple)
leads = st.none() | st.builds(LeadTime, days=st.integers(0, 60), working=st.booleans())

packing = st.lists(
    st.builds(
        PackedLine,
        shipment=st.sampled_from(["S-1", "S-2"]),
        listed=quantities,
        counted=quantities,
        closed=st.booleans(),
        expected=maybe_days,
    ),
    max_size=4,
).map(tuple)
orders = st.lists(
    st.builds(
        OrderedLine,
        order=st.sampled_from(["O-1", "O-2"]),
        quantity=quantities,
        shipped=quantities,
        open=st.booleans(),
        expected=maybe_days,
        sent=maybe_days,
        lead=leads,
    ),
    max_size=3,
).map(tuple)
stage_books = st.builds(
    lambda run_id, **fields: StageBook(run_id, f"CB-{run_id}", **fields),
    run_id=st.integers(1, 3),
    stage=st.sampled_from(STAGES),
    planned=maybe_days,
    done=st.booleans(),
    takeoff=quantities,
    drawn=quantities,
    issued=quantities,
)
stages = st.lists(stage_books, max_size=8, unique_by=lambda book: (book.run, book.stage)).map(tuple)
terms = st.builds(
    Terms,
    as_of=st.just(AS_OF),
    buffer_days=st.integers(0, 10),
    level=st.integers(5000, 9990).map(lambda n: Fraction(n, 10_000)),
)


fractions = st.integers(1, 80_000).map(lambda n: Fraction(n, 10_000))
priors = st.sampled_from(sorted(PRIORS.values(), key=str)) | st.builds(
    Prior, rate=fractions, rate_worth=fractions, spread=fractions, spread_worth=st.integers(1, 20)
)


learned_or_fixed = st.none() | priors


@st.composite
def item_books(draw, prior=learned_or_fixed, **fixed):
    """
    Books in which nothing was made or lost: what came from suppliers is wherever the other quantities say.

    Lost may be negative, which is found; elsewhere may be negative, which came from another site.
    """
    item = ShortItem(
        id=1,
        code="X",
        prior=draw(prior),
        pack=draw(st.integers(1, 500_000)),
        min_order=draw(st.just(0) | quantities),
        lead=draw(leads),
        fitted=draw(st.sampled_from(["", "", "", "straight"])),
    )
    parts = {
        "stages": draw(stages),
        "lots": draw(lots),
        "packing": draw(packing),
        "orders": draw(orders),
        "promised": draw(quantities),
        "rejected": draw(quantities),
        "scrapped": draw(quantities),
        "lost": draw(st.integers(-1_000_000, 1_000_000)),
        "elsewhere": draw(st.integers(-1_000_000, 1_000_000)),
        **fixed,
    }
    issued = sum(stage.issued for stage in parts["stages"])
    on_hand = sum(lot.quantity for lot in parts["lots"])
    counted = on_hand + issued + parts["rejected"] + parts["scrapped"] + parts["lost"] + parts["elsewhere"]
    return ItemBooks(item=item, counted=counted, **parts)
