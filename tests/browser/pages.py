"""Every page of the web app as a person meets it, at the demo site."""

from dataclasses import dataclass

from django.urls import reverse

from kits.shortages.queries import reconcile
from kits.stock.models import Balance
from takeoff.models import Place, Run, Site, TakeoffLine, User


@dataclass(frozen=True)
class Stop:
    """A page: what it is called, its address, and who opens it ("" for nobody)."""

    name: str
    url: str
    role: str


def every_page(site: Site, run: Run | None = None) -> list[Stop]:
    """Each page once, filled; pages that only answer to a form are reached by the stories instead."""
    slug = site.slug
    run = run or Run.objects.of(site).get(name="CB-12")
    line = TakeoffLine.objects.of(site).filter(takeoff__run=run).order_by("pk").first()
    sealant = next(line for line in reconcile(site).short_lines if line.learned)
    late = next(line for line in reconcile(site).short_lines if line.timing)
    bin_ = Balance.objects.of(site).filter(place__kind=Place.Kind.BIN, quantity__gt=0).first().place
    foreman = User.objects.get(username="foreman")
    return [
        Stop("sign-in", reverse("sign_in"), ""),
        Stop("sites", reverse("home") + "?choose", "planner"),
        Stop("password", reverse("change_password"), "viewer"),
        Stop("today-planner", reverse("today", args=[slug]), "planner"),
        Stop("today-storekeeper", reverse("today", args=[slug]), "storekeeper"),
        Stop("runs", reverse("runs", args=[slug]), "planner"),
        Stop("run", reverse("run", args=[slug, run.pk]), "planner"),
        Stop("takeoff-line", reverse("takeoff_line", args=[slug, run.pk, line.pk]), "planner"),
        Stop("stock", reverse("stock", args=[slug]), "storekeeper"),
        Stop("stock-item", reverse("stock_item", args=[slug, sealant.item.id]), "purchaser"),
        Stop("places", reverse("stock_places", args=[slug]), "storekeeper"),
        Stop("place", reverse("stock_place", args=[slug, bin_.pk]), "storekeeper"),
        Stop("shortages", reverse("shortages", args=[slug]), "purchaser"),
        Stop("shortage", reverse("shortage", args=[slug, sealant.item.id]), "purchaser"),
        Stop("shortage-late", reverse("shortage", args=[slug, late.item.id]), "viewer"),
        Stop("load", reverse("load_sheets", args=[slug]), "planner"),
        Stop("rules", reverse("rules", args=[slug]), "planner"),
        Stop("members", reverse("members", args=[slug]), "planner"),
        Stop("member", reverse("member", args=[slug, foreman.pk]), "planner"),
    ]
