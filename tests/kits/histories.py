"""Histories of a store that could have happened: every row names its bin and lot, every moment is its own."""

from collections import defaultdict
from datetime import UTC, datetime, timedelta
from random import Random

from takeoff.models import Site
from tests.factories.kits import ShipmentFactory
from tests.factories.takeoff import ItemFactory, RunFactory, SiteFactory

START = datetime(2026, 3, 2, 6, tzinfo=UTC)
ITEMS, BINS, RUNS, STAGES = 12, ("A", "B", "C"), 4, ("seals", "covers")
LOTS = (("",), ("L1", "L2"))  # every other item comes in lots; a blank lot of those would be any


def store(slug: str) -> Site:
    """A site with the items, runs and the shipment that a history is about."""
    site = SiteFactory(slug=slug)
    for number in range(ITEMS):
        ItemFactory(site=site, code=f"I{number}")
    for number in range(RUNS):
        RunFactory(site=site, name=f"R{number}")
    ShipmentFactory(site=site, name="S1")
    return site


def history(amount: int, seed: int) -> list[tuple[str, dict]]:
    """Records as (kind, row), in the order in which they happened; none takes more than is there."""
    random = Random(seed)
    lying: dict[tuple, int] = defaultdict(int)
    handed: dict[tuple, int] = defaultdict(int)
    records: list[tuple[str, dict]] = []
    for number in range(amount):
        of_items, bin_ = random.randrange(ITEMS), random.choice(BINS)
        item, lot = f"I{of_items}", random.choice(LOTS[of_items % 2])
        row = {"id": f"e{number:06}", "item": item, "at": (START + timedelta(seconds=61 * number)).isoformat()}
        run, stage = f"R{random.randrange(RUNS)}", random.choice(STAGES)
        key, work = (item, bin_, lot), (item, run, stage, lot)
        kind = random.choices(
            ["receipts", "counts", "issues", "returns", "transfers"], [30, 8, 40, 12, 10]
        )[0]  # fmt: skip
        if (kind in {"issues", "transfers"} and not lying[key]) or (kind == "returns" and not handed[work]):
            kind = "receipts"
        if kind == "receipts":
            quantity = random.randint(1, 40)
            row |= {"shipment": "S1", "counted": str(quantity), "bin": bin_, "part": "yes"}
            lying[key] += quantity
        elif kind == "counts":
            quantity = max(0, lying[key] + random.randint(-3, 3))
            row |= {"bin": bin_, "counted": str(quantity)}
            lying[key] = quantity
        elif kind == "issues":
            quantity = random.randint(1, lying[key])
            row |= {"bin": bin_, "quantity": str(quantity), "run": run, "stage": stage}
            lying[key] -= quantity
            handed[work] += quantity
        elif kind == "returns":
            quantity = random.randint(1, handed[work])
            row |= {"bin": bin_, "quantity": str(quantity), "run": run, "stage": stage}
            lying[key] += quantity
            handed[work] -= quantity
        else:
            quantity, target = random.randint(1, lying[key]), random.choice([each for each in BINS if each != bin_])
            row |= {"source": bin_, "target": target, "quantity": str(quantity)}
            lying[key] -= quantity
            lying[item, target, lot] += quantity
        records.append((kind, row | ({"lot": lot} if lot else {})))
    return records


def as_sheets(records: list[tuple[str, dict]]) -> dict[str, list[list]]:
    """The same records as the sheets that `load` takes."""
    tables: dict[str, list[list]] = {}
    for kind in dict(records):
        rows = [row for each, row in records if each == kind]
        columns = list(dict.fromkeys(column for row in rows for column in row))
        tables[kind] = [columns, *([row.get(column) for column in columns] for row in rows)]
    return tables


def batches(records: list[tuple[str, dict]], seed: int, most: int = 200) -> list[list[tuple[str, dict]]]:
    """The records shuffled, in batches of any size, each batch one to three times, those in any order too."""
    random = Random(seed)
    shuffled = list(records)
    random.shuffle(shuffled)
    found = []
    while shuffled:
        size = random.randint(1, most)
        batch, shuffled = shuffled[:size], shuffled[size:]
        found += [batch] * random.randint(1, 3)
    random.shuffle(found)
    return found
