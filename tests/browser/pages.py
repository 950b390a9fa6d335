"""Every page of the web app as a person meets it, at the demo site."""

import io
from dataclasses import dataclass
from datetime import timedelta

from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils import timezone
from openpyxl import Workbook, load_workbook

from kits.claims.models import Claim
from kits.claims.queries import still_open
from kits.demo.services import plan_cables
from kits.orders.models import Order
from kits.receiving.queries import delivery_reports
from kits.reorders.queries import propose
from kits.reorders.services import draft_orders, send_order
from kits.shipments.models import Package
from kits.shortages.queries import reconcile
from kits.stock.models import Balance, Posting
from reels.models import Cut, CutPlan, PlannedCut, Reel
from reels.planner.options import Options
from reels.plans.services import ask_for_plan, run_plan
from takeoff.models import Cable, Place, Run, SetAside, Site, Stage, TakeoffLine, User
from takeoff.people.services import invitation_token, invite
from takeoff.records.decoding import Sent
from takeoff.records.services import keep_one, take
from takeoff.rules.pages import book_as_sheet
from takeoff.rules.pages import books as rule_books
from takeoff.uploads import services as uploads

PHONE, TABLET, DESK = 390, 768, 1440
HEIGHTS = {PHONE: 844, TABLET: 1024, DESK: 900}
BAD_STAGES = [["CB-99", "covers", "2027-03-01"], ["CB-05", "painting", "2027-03-01"], ["CB-06", "covers", "soon"]]
GOOD_STAGES = [["CB-05", "covers", "2027-03-01"], ["CB-06", "covers", "2027-03-02"]]


@dataclass(frozen=True)
class Stop:
    """A page: what it is called, its address, who opens it ("" for nobody), and its answer when it is not 200."""

    name: str
    url: str
    role: str
    status: int = 200


def stages_workbook(rows: list[list[str]]) -> bytes:
    """Return a workbook with a table of stages."""
    book = Workbook()
    sheet = book.active
    sheet.title = "stages"
    for row in [["run", "stage", "planned"], *rows]:
        sheet.append(row)
    file = io.BytesIO()
    book.save(file)
    return file.getvalue()


def furnish(site: Site) -> list[Stop]:
    """Store what pages show that the demo's sheets do not hold: cut plans, uploads, an invitation; return its stops."""
    plan_cables(site=site)
    cable = Cable.objects.of(site).get(code="LV-350")
    other = run_plan(plan=ask_for_plan(site=site, cable=cable, options=Options(strict=True, seconds=1.0)))
    invitation = invitation_token(invite(site=site, email="new@quillmarsh.example", roles=["viewer", "foreman"]))
    slug = site.slug
    compare = reverse("compare_cut_plans", args=[slug, cable.pk])
    accepted = CutPlan.objects.of(site).get(cable=cable, state="accepted")
    return [
        Stop("compare", f"{compare}?one={accepted.pk}&other={other.pk}", "planner"),
        Stop("invited", reverse("invited", args=[invitation]), ""),
        Stop("load-problems", upload(site, "stages.xlsx", stages_workbook(BAD_STAGES)), "planner"),
        Stop("load-preview", upload(site, "stages.xlsx", stages_workbook(GOOD_STAGES)), "planner"),
        Stop("load-rules", upload(site, "rules.xlsx", changed_rules(site)), "planner"),
        Stop("waiting", reverse("waiting_records", args=[site.slug]), "storekeeper"),
        Stop("waiting-record", waiting_record(site), "storekeeper"),
        Stop("claim", claim(site), "planner"),
        Stop("gang-box", gang_box(site), "foreman"),
        Stop("gang-boxes", reverse("gang_boxes", args=[slug]), "storekeeper"),
        Stop("gang-box-filling", reverse("fill_gang_box", args=[slug]), "storekeeper"),
        *orders(site),
    ]


def orders(site: Site) -> list[Stop]:
    """Draft an order of what runs short, send it and hear by phone that part of it comes; return its stops."""
    purchaser = User.objects.get(username="purchaser")
    wares = [f"i{line.item.id}" for line in reconcile(site).short_lines if line.order]
    seen = {line.key: line.quantity for line in propose(site, wares)}
    drafted, sent = draft_orders(site=site, sender=purchaser, seen=seen).orders[:2]
    now = timezone.now()
    send_order(order=sent, sender=purchaser, row={"id": "sent-1", "order": sent.name, "step": "sent", "at": now})
    line = sent.lines.filter(item__isnull=False).select_related("item", "run").first()
    row = {"id": "reply-1", "order": sent.name, "item": line.item, "quantity": 1, "how": "phone", "at": now}
    keep_one(site=site, kind="replies", row=row | ({"run": line.run} if line.run else {}))

    def at(name: str, order: Order) -> str:
        return reverse(name, args=[site.slug, order.pk])

    acts = ("send_order", "order_reply", "chase_order", "cancel_order")
    return [
        Stop("order-draft", at("order", drafted), "purchaser"),
        Stop("order-change", at("change_order", drafted), "purchaser"),
        Stop("order-ask", at("ask_for_order", drafted), "purchaser"),
        Stop("order-drop", at("cancel_order", drafted), "purchaser"),
        Stop("order-new", reverse("new_order", args=[site.slug]) + f"?ware={'&ware='.join(wares)}", "purchaser"),
        Stop("order-sent", at("order", sent), "purchaser"),
        Stop("order-without-money", at("order", sent), "storekeeper"),
        *(Stop(f"order-{name.replace('_', '-')}", at(name, sent), "purchaser") for name in acts),
    ]


def gang_box(site: Site) -> str:
    """Fill the box of a crew, a stage of whose is done then; return the address at which it is counted."""
    run = Run.objects.of(site).exclude(crew="").order_by("name").first()
    loose = Balance.objects.of(site).filter(place__kind=Place.Kind.BIN, quantity__gte=4).exclude(item__usage="fixed")
    for number, row in enumerate(loose.order_by("item__code").select_related("item", "place")[:3]):
        said = {"id": f"box-{number}", "item": row.item, "quantity": "4", "lot": row.lot, "source": row.place.name}
        said |= {"target": f"{run.crew}'s box", "at": timezone.now() - timedelta(days=8)}
        keep_one(site=site, kind="transfers", row=said)
    return reverse("count_gang_box", args=[site.slug, Place.objects.of(site).get(kind=Place.Kind.GANG_BOX).pk])


def claim(site: Site) -> str:
    """Open a claim for the first goods that can be claimed; return its address."""
    first = still_open(site)[1][0]
    row = {"id": "claim-1", "shipment": first.shipment, "step": "filed", "reference": "CL-204", "at": timezone.now()}
    row |= {"arrival": str(first.truck.arrival or ""), "claim": first.number, "by": "Stores"}
    keep_one(site=site, kind="claim_steps", row=row)
    return reverse("claim", args=[site.slug, Claim.objects.of(site).get().pk])


def waiting_record(site: Site) -> str:
    """Send a hand-out from a bin that nobody knows, as a phone does; return the address of what waits."""
    row = {"id": "phone-1", "item": "lug-2-hole", "quantity": "9", "run": "CB-05", "stage": "terminations"}
    row |= {"at": site.start_of(site.today()).isoformat(), "bin": "Shelf 99", "by": "Crew B"}
    sender = User.objects.get(username="storekeeper")
    take(site=site, sender=sender, roles=frozenset({"storekeeper"}), sent=[Sent("issues", row)], device="phone")
    return reverse("waiting_record", args=[site.slug, SetAside.objects.of(site).get().pk])


def upload(site: Site, name: str, content: bytes) -> str:
    """Upload a file as the planner and have it checked; return the address of what came of it."""
    planner = User.objects.get(username="planner")
    kept = uploads.keep(site=site, user=planner, files=[SimpleUploadedFile(name, content)])
    uploads.set_to_work(kept, loading=False)
    return reverse("upload", args=[site.slug, kept.token])


def changed_rules(site: Site) -> bytes:
    """Return the site's rule book as a sheet in which an amount differs: a draft to look at before publishing."""
    book = load_workbook(io.BytesIO(book_as_sheet(site, rule_books(site)[0])))
    sheet = book["rules"]
    heads = [cell.value for cell in sheet[1]]
    for row in sheet.iter_rows(min_row=2):
        if row[heads.index("item")].value == "tape-phase":
            row[heads.index("amount")].value = "3 ft"
    file = io.BytesIO()
    book.save(file)
    return file.getvalue()


def every_page(site: Site, run: Run | None = None) -> list[Stop]:
    """Each page once, filled; what `furnish` stores makes some of them fuller, and adds its own."""
    slug = site.slug
    run = run or Run.objects.of(site).get(name="CB-12")
    line = TakeoffLine.objects.of(site).filter(takeoff__run=run).order_by("pk").first()
    short = reconcile(site).short_lines
    sealant = next(line for line in short if line.learned)
    late = next(line for line in short if line.timing)
    bin_ = Balance.objects.of(site).filter(place__kind=Place.Kind.BIN, quantity__gt=0).first().place
    reel = Reel.objects.of(site).order_by("pk").first()
    reel_cut = Cut.objects.of(site).filter(conductor__isnull=False).order_by("pk").first()
    planned = PlannedCut.objects.of(site).filter(plan__state="accepted").order_by("pk").first()
    crate = Package.objects.of(site).get(name="Crate CB-06")
    stage = Stage.objects.of(site).get(run__name__startswith="CB-02", stage="enclosure")
    moved = Posting.objects.of(site).filter(moves__isnull=False).first()
    told = next(report for report in delivery_reports(site) if report.exceptions).shipment
    foreman = User.objects.get(username="foreman")
    cables = {cable.code: cable for cable in Cable.objects.of(site)}
    pulled = (
        Run.objects.of(site).filter(conductors__planned_cuts__plan__state="accepted").order_by("name").first() or run
    )

    def at(name: str, *args: object) -> str:
        return reverse(name, args=[slug, *args])

    return [
        Stop("sign-in", reverse("sign_in"), ""),
        Stop("sites", reverse("home") + "?choose", "planner"),
        Stop("password", reverse("change_password"), "viewer"),
        *(Stop(f"today-{who}", at("today"), who) for who in ("planner", "storekeeper", "foreman", "purchaser")),
        Stop("runs", at("runs"), "planner"),
        Stop("run", at("run", run.pk), "planner"),
        Stop("takeoff-line", at("takeoff_line", run.pk, line.pk), "planner"),
        Stop("delivery-report", at("receiving_report", told.pk), "viewer"),
        Stop("claims", at("claims"), "storekeeper"),
        Stop("letter-to-supplier", at("supplier_letter", told.supplier_id), "purchaser"),
        Stop("stock", at("stock"), "storekeeper"),
        Stop("stock-item", at("stock_item", sealant.item.id), "purchaser"),
        Stop("places", at("stock_places"), "storekeeper"),
        Stop("place", at("stock_place", bin_.pk), "storekeeper"),
        Stop("bin-set-up", at("set_up_bin", bin_.pk), "storekeeper"),
        Stop("labels", at("labels") + "?kind=i", "storekeeper"),
        Stop("labels-on-paper", at("labels_printed") + "?kind=i&paper=letter&first=3", "storekeeper"),
        Stop("find-label", at("find_label"), "foreman"),
        Stop("find-label-none", at("find_label") + "?q=R-0", "foreman", status=404),
        Stop("label", at("label", f"r{reel.pk}"), "storekeeper"),
        Stop("place-count", at("count_place", bin_.pk), "storekeeper"),
        Stop("place-move", at("place_act", bin_.pk, "move"), "storekeeper"),
        Stop("held", at("stock_held"), "storekeeper"),
        Stop("stock-act", at("stock_act", moved.pk), "storekeeper"),
        Stop("receiving", at("receiving"), "storekeeper"),
        Stop("shipment", at("receiving_shipment", crate.shipment_id), "storekeeper"),
        Stop("crate", at("receiving_package", crate.shipment_id, crate.pk), "storekeeper"),
        Stop("grid", at("receiving_grid", crate.shipment_id), "storekeeper"),
        Stop("reels-to-come", at("receiving_reels") + "?delivery=SH-1093", "foreman"),
        Stop("between-sites", at("stock_transit"), "storekeeper"),
        Stop("gate", at("gate", crate.shipment_id), "foreman"),
        Stop("new-truck", at("new_truck"), "foreman"),
        Stop("hand-out", at("hand_out"), "storekeeper"),
        Stop("pick-list", at("pick_list", stage.run_id, stage.stage), "storekeeper"),
        Stop("debts", at("debts"), "storekeeper"),
        Stop("pull", at("pull"), "foreman"),
        Stop("pull-run", at("pull_run", pulled.pk), "foreman"),
        Stop("stand", at("stand", pulled.pk), "foreman"),
        Stop("pull-list", at("pull_list", pulled.pk), "viewer"),
        Stop("pull-enter", at("pull_enter", pulled.pk), "foreman"),
        Stop("act", at("act", "receipts"), "storekeeper"),
        Stop("on-this-phone", reverse("device_queue"), ""),
        Stop("reels", at("reels"), "foreman"),
        Stop("find-cable", at("find_cable") + "?count=3&length_0=84&length_1=&size=350+Cu", "foreman"),
        Stop("reel-doubts", at("reel_doubts"), "planner"),
        Stop("reel", at("reel", reel_cut.reel_id), "foreman"),
        Stop("reel-whole", at("reel", planned.reel_id if planned else reel.pk), "viewer"),
        Stop("cut-reel", at("cut_reel", planned.reel_id if planned else reel.pk), "foreman"),
        Stop("cut", at("cut", reel_cut.pk), "planner"),
        Stop("cables", at("cut_plan"), "planner"),
        Stop("cut-plan", at("cut_plan_cable", cables["LV-350"].pk), "planner"),
        Stop("cut-plan-short", at("cut_plan_cable", cables["LV-500"].pk), "planner"),
        Stop("cut-list", at("cut_list", cables["LV-350"].pk), "foreman"),
        Stop("cut-list-by-run", at("cut_list", cables["LV-350"].pk) + "?by=run", "foreman"),
        Stop("headroom", at("headroom", cables["LV-350"].pk), "planner"),
        Stop("shortages", at("shortages"), "purchaser"),
        Stop("orders", at("orders"), "purchaser"),
        Stop("shortage", at("shortage", sealant.item.id), "purchaser"),
        Stop("shortage-late", at("shortage", late.item.id), "viewer"),
        Stop("offers", at("offers"), "purchaser"),
        Stop("close-out", at("close_out"), "planner"),
        Stop("close-out-run", at("close_run", run.pk), "purchaser"),
        Stop("load", at("load_sheets"), "planner"),
        Stop("rules", at("rules"), "planner"),
        Stop("members", at("members"), "planner"),
        Stop("member", at("member", foreman.pk), "planner"),
        Stop("not-found", at("today") + "nowhere/", "viewer", status=404),
        Stop("not-allowed", at("members"), "viewer", status=403),
    ]
