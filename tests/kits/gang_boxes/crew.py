"""A crew, its runs and its box, told for tests in one line each."""

from takeoff.models import Run, Stage, Takeoff
from tests.factories.takeoff import RunFactory, TakeoffFactory, TakeoffLineFactory
from tests.kits.makers import at, report


def a_run(site, name, item, quantity, *, crew="Crew A", stage="seals", done=None) -> Run:
    run = RunFactory(site=site, name=name, crew=crew)
    takeoff = Takeoff.objects.filter(run=run).first() or TakeoffFactory(run=run, book=None)
    TakeoffLineFactory(takeoff=takeoff, item=item, stage=stage, quantity=quantity)
    Stage.objects.create(run=run, stage=stage, done=done and at(done))
    return run


def filled(item, quantity, *, number=2, crew="Crew A", **more):
    target = f"{crew}'s box"
    row = {"item": item, "quantity": str(quantity), "source": "Store", "target": target, "number": number}
    return report(item.site, "transfers", **row, **more)


def left(item, counted, *, number=6, crew="crew  A", **more):
    said = {"counted": str(counted)} if counted is not None else {"about": "half"}
    return report(item.site, "box_counts", item=item, crew=crew, number=number, **said, **more)
