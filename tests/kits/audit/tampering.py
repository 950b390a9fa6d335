"""Books with something in every table of what was kept, and what somebody with the database in hand does to them."""

import json
from datetime import date, datetime, timedelta
from pathlib import Path
from random import Random
from typing import Any
from uuid import UUID

from django.apps import apps
from django.db import IntegrityError, connection, models, transaction
from django.utils import timezone

from kits.audit.as_kept import prove_as_kept
from kits.audit.proofs import crossings, prove_site
from kits.demo.services import fill
from kits.models import Balance
from kits.orders.models import Order
from kits.reorders.services import send_order
from reels.models import Cut
from takeoff.chain.services import link_rows
from takeoff.models import Item, Link, Record, SetAside, Site
from takeoff.photos.on_disk import place_of
from takeoff.photos.services import keep_photo, remove_photo
from takeoff.records.decoding import Sent
from takeoff.records.services import drop_aside, keep_one, take
from tests.factories.kits import PackageFactory, PackingLineFactory, ShipmentFactory
from tests.factories.reels import ReelFactory
from tests.factories.takeoff import ItemFactory, member
from tests.takeoff.photos.pictures import shot


def whole_books(folder: Path) -> Site:
    """The demo's books, with a row in every table that is never changed; all of it linked."""
    site, _ = fill(folder=folder)
    sender = member(site, "planner")
    now = timezone.now()

    def keep(kind: str, id_: str, **row: object) -> Record:
        return keep_one(site=site, kind=kind, row={"id": id_, "at": now, **row}, sender=sender)

    shipment = ShipmentFactory(site=site, name="T-1")
    crate, lug = PackageFactory(shipment=shipment, name="Crate"), ItemFactory(site=site, code="T-LUG")
    PackingLineFactory(shipment=shipment, item=lug, quantity=10, package=crate)
    keep("truck_calls", "T-call", shipment=shipment, expected=now.date())
    keep("arrivals", "T-here", shipment=shipment, count="0", missing="Crate")
    keep("receipts", "T-count", shipment=shipment, item=lug, counted="7", lot="T", expires=now.date())
    keep("claim_steps", "T-step", shipment=shipment, step="told the carrier")
    keep("length_choices", "T-choice", run=site.runs.first(), way="drawing", reason="set out with a tape")
    cut = Cut.objects.of(site).filter(purpose="conductor").last()
    keep("cut_decisions", "T-cut", cut=cut, decision="withdrawn", reason="damaged in the pull")
    keep("reel_events", "T-reel", reel="T-501", cable=cut.reel.cable, length="1000 ft")
    reel = ReelFactory(site=site, tag="T-502", cable=cut.reel.cable, outer_mark=1000, inner_mark=2000)
    keep("readings", "T-read", reel=reel, what="mark showing", mark=1250)
    keep("doubts_seen", "T-seen", doubt="clock T-cut", reason="the phone's battery was new")
    tape = Item.objects.of(site).get(code="tape-phase")
    before, out = now - timedelta(hours=1), {"run": "CB-01", "stage": "cables", "bin": "Shelf A1"}
    keep("issues", "T-out", at=before, item=tape, quantity="0.5", **out)
    keep("transfers", "T-fill", at=before, item=tape, quantity="2", source="Shelf A1", target="Crew A's box")
    keep("box_counts", "T-left", item=tape, crew="Crew A", counted="1")
    order = Order.objects.of(site).get(name="PO-126")
    send_order(order=order, sender=sender, row={"id": "T-sent", "order": order, "step": "sent", "at": now})
    sealant = order.lines.get().item
    keep("replies", "T-reply", order=order, item=sealant, quantity="12", how="phone", arrives=now.date())
    unknown = {"id": "T-aside", "at": now.isoformat(), "item": "nobody knows it", "counted": "1", "bin": "A"}
    take(site=site, sender=sender, roles=frozenset({"planner"}), sent=[Sent("counts", unknown)])
    drop_aside(site=site, aside=SetAside.objects.of(site).get(), reason="a wrong tag", sender=sender)
    for width in (40, 50):
        photo = keep_photo(site=site, by=sender, kind="arrivals", record="T-here", content=shot(width, 30))
    remove_photo(photo=photo.photo, reason="a face in it", by=sender)
    place_of(site.pk, photo.photo.uuid).unlink(missing_ok=True)  # as the commit does
    link_rows(site)
    return site


def kept_models() -> list[Any]:
    """The models whose rows are never changed, and those that are rebuilt from them."""
    kept = [config.get_model(name) for config in apps.get_app_configs() for name in getattr(config, "append_only", {})]
    return [*kept, Balance]


def faults(site: Site) -> list[str]:
    """What the audit says against a site's books, the guards left out: they were put up again."""
    proofs = [*prove_site(site), *prove_as_kept(site)]
    return [*(fault for proof in proofs for fault in proof.faults), *crossings()]


def tamper(random: Random) -> str:
    """Change, delete or put in one row of any table by plain SQL, whatever the database itself lets pass; say what."""
    while True:
        model = random.choice(kept_models())
        pks = list(model.objects.order_by("pk").values_list("pk", flat=True))
        if model is Link:
            pks.pop()  # the last link without its rows linked anew is what --head is for
        if not pks:
            continue
        act, pk = random.choice([_change, _change, _delete, _put_in]), random.choice(pks)
        try:
            with transaction.atomic():
                if done := act(model, pk, random):
                    return f"{model.__name__} {pk}: {done}"
        except IntegrityError:
            continue  # the database refuses it even without its guards


def _change(model: Any, pk: int, random: Random) -> str:
    field = random.choice([each for each in model._meta.concrete_fields if not each.primary_key])
    before = model.objects.filter(pk=pk).values_list(field.attname, flat=True)[0]
    after = _another(field, before, random)
    if after == before or (model is Balance and field.attname == "may_be_negative"):
        return ""
    if model is Balance and field.attname != "quantity" and not model.objects.get(pk=pk).quantity:
        return ""  # nothing lies there either way
    _execute(f'UPDATE "{model._meta.db_table}" SET "{field.column}" = %s WHERE id = %s', [_raw(field, after), pk])
    return f"{field.column} {before!r} to {after!r}"


def _delete(model: Any, pk: int, _random: Random) -> str:
    if model is Balance and not model.objects.get(pk=pk).quantity:
        return ""  # nothing lies there either way
    _execute(f'DELETE FROM "{model._meta.db_table}" WHERE id = %s', [pk])
    return "gone"


def _put_in(model: Any, pk: int, random: Random) -> str:
    """Put in a copy of a row under the next key, with another name where names are unique."""
    if model is Link:
        return ""
    row = model.objects.get(pk=pk)
    row.pk, row._state.adding = model.objects.order_by("pk").last().pk + 1, True
    names = {"event_id", "uuid", "version", "number", "seq", "name", "lot", "code"}
    for field in model._meta.concrete_fields:
        if field.name in names:
            setattr(row, field.attname, _another(field, getattr(row, field.attname), random))
    fields = model._meta.concrete_fields
    columns, marks = ", ".join(f'"{each.column}"' for each in fields), ", ".join(["%s"] * len(fields))
    values = [_raw(each, getattr(row, each.attname)) for each in fields]
    _execute(f'INSERT INTO "{model._meta.db_table}" ({columns}) VALUES ({marks})', values)
    return "put in once more"


def _execute(sql: str, values: list[Any]) -> None:
    with connection.cursor() as cursor:
        cursor.execute(sql, values)


def _raw(field: models.Field, value: Any) -> Any:
    return field.get_db_prep_save(value, connection)


def _another(field: Any, value: Any, random: Random) -> Any:
    """A value that a column could hold as well."""
    if field.is_relation:
        keys = list(field.related_model._base_manager.values_list("pk", flat=True)[:50])
        return random.choice([*keys, None] if field.null else keys)
    if field.choices:
        return random.choice([key for key, _ in field.choices])
    if isinstance(field, models.BooleanField):
        return not value
    if value is None:
        value = {"DateField": date(2026, 3, 1), "DateTimeField": timezone.now()}.get(field.get_internal_type(), "")
    if isinstance(value, datetime):
        return value + timedelta(minutes=random.randint(1, 1000))
    if isinstance(value, date):
        return value + timedelta(days=random.randint(1, 30))
    if isinstance(value, UUID):
        return UUID(int=random.getrandbits(128))
    if isinstance(value, str):
        if isinstance(field, models.JSONField):
            return ["said by nobody"]
        if field.get_internal_type() != "CharField" and field.get_internal_type() != "TextField":
            return random.randint(1, 9)
        return f"{value[: (field.max_length or 9) - 1]}{random.choice('0123456789')}"
    if isinstance(value, dict | list):
        return json.loads(json.dumps(value)) | {"note": "x"} if isinstance(value, dict) else [*value, "x"]
    return value + random.randint(1, 9)
