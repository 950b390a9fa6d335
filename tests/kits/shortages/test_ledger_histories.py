"""Whatever people do to the real ledger, and on whichever day it is read, the causes add up."""

from datetime import date, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kits.shortages.queries import reconcile
from kits.stock.books.errors import LedgerError
from kits.stock.places import Places
from tests.kits.shortages.scene import Scene, at
from tests.lock_order import undone

pytestmark = pytest.mark.django_db
FIRST = date(2026, 5, 1)
STAGES = ("seals", "terminations")

ACTS = (
    *("receive", "part", "hand out", "return", "spoil", "scrap"),
    *("lose", "find", "send back", "lend", "done", "undo"),
)

acts = st.lists(
    st.tuples(
        st.sampled_from(ACTS),
        st.integers(0, 1),  # which item
        st.integers(0, 1),  # which run
        st.integers(1, 30),  # how many
        st.integers(1, 28),  # on which day of May
    ),
    max_size=14,
)


def perform(scene, act, items, runs, lines, posted):
    """Do one act; what the ledger refuses does not happen."""
    name, which, where, quantity, day = act
    item, run, stage, when = items[which], runs[where], STAGES[where], at(day)
    places = Places(scene.site)
    store, work = scene.bin(), places.handed_out(run, stage)
    ends = {
        "hand out": (store, work),
        "return": (work, store),
        "spoil": (work, places.spoiled(run, stage)),
        "scrap": (store, places.scrap()),
        "lose": (store, places.lost_found()),
        "find": (places.lost_found(), store),
        "send back": (places.quarantine(), places.returned()),
        "lend": (store, places.other_site(scene.site.slug)),
    }
    if name in ends:
        posted.append(scene.move(item, quantity, *ends[name], when=when))
    elif name in {"receive", "part"}:
        good = quantity - quantity // 5
        posted.append(scene.receive(lines[which], quantity, good=good, partial=name == "part", when=when))
    elif name == "done":
        scene.stage(run, stage, planned=FIRST + timedelta(days=quantity), done=when)
    elif posted:
        scene.reverse(posted.pop(), when=when)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(history=acts, day=st.integers(0, 30))
def test_causes_add_up_after_any_history_on_any_day(history, day):
    with undone():
        scene = Scene()
        items = [scene.item("FIXED"), scene.item("LEARNED", usage="wiped")]
        runs = [scene.run("CB-1"), scene.run("CB-2")]
        lines = []
        for item in items:
            for run, stage in zip(runs, STAGES, strict=True):
                scene.needs(run, item, stage, 12, drawn=10)
            scene.promise(item, 20)
            order = scene.order(item, 9, name=f"O-{item.code}", expected=FIRST)
            scene.ship(item, 4, name="S-2", order=order)
            lines.append(scene.ship(item, 20))
        posted = []
        for act in history:
            try:
                perform(scene, act, items, runs, lines, posted)
            except LedgerError:
                continue
        for line in reconcile(scene.site, FIRST + timedelta(days=day)).lines:
            assert sum(line.causes.values()) == line.need - line.usable - line.inbound
            assert line.short == max(0, line.gap + line.learned) + line.timing
            assert line.counted == line.on_hand + line.issued + sum(
                line.causes[cause] for cause in ("rejected", "lost", "scrapped", "other_site")
            )
