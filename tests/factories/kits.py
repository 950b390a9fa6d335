"""One row of each model of the kits floor: a test says what matters to it, the factory the rest."""

from factory import SelfAttribute, Sequence, SubFactory, post_generation
from factory.django import DjangoModelFactory

from kits.models import (
    Kit,
    KitLine,
    Lot,
    Move,
    Order,
    OrderLine,
    Package,
    PackingLine,
    Posting,
    Receipt,
    ReceiptLine,
    Shipment,
)  # fmt: skip
from kits.orders.services import step_to_states
from tests.factories.takeoff import NOON, OF_THE_SAME_SITE, ItemFactory, PlaceFactory, SiteFactory, SupplierFactory


class KitFactory(DjangoModelFactory):
    class Meta:
        model = Kit
        django_get_or_create = ("site", "name")

    site = SubFactory(SiteFactory)
    name = Sequence(lambda number: f"K{number}")


class KitLineFactory(DjangoModelFactory):
    class Meta:
        model = KitLine

    kit = SubFactory(KitFactory)
    item = SubFactory(ItemFactory, site=SelfAttribute("..kit.site"))
    quantity = 1


class OrderFactory(DjangoModelFactory):
    class Meta:
        model = Order
        django_get_or_create = ("site", "name")
        skip_postgeneration_save = True

    site = SubFactory(SiteFactory)
    name = Sequence(lambda number: f"O{number}")
    supplier = SubFactory(SupplierFactory, site=OF_THE_SAME_SITE)
    state = "sent"

    @post_generation
    def brought_there(order, create, _extracted):  # noqa: N805  # factory_boy hands over what was made
        if create and not order.steps.exists():
            step_to_states(orders=[order], sender=None)


class OrderLineFactory(DjangoModelFactory):
    class Meta:
        model = OrderLine

    order = SubFactory(OrderFactory)
    item = SubFactory(ItemFactory, site=SelfAttribute("..order.site"))
    quantity = 1


class ShipmentFactory(DjangoModelFactory):
    class Meta:
        model = Shipment
        django_get_or_create = ("site", "name")

    site = SubFactory(SiteFactory)
    name = Sequence(lambda number: f"S{number}")
    supplier = SubFactory(SupplierFactory, site=OF_THE_SAME_SITE)


class PackageFactory(DjangoModelFactory):
    class Meta:
        model = Package

    shipment = SubFactory(ShipmentFactory)
    name = Sequence(lambda number: f"crate {number}")


class PackingLineFactory(DjangoModelFactory):
    class Meta:
        model = PackingLine

    shipment = SubFactory(ShipmentFactory)
    item = SubFactory(ItemFactory, site=SelfAttribute("..shipment.site"))
    quantity = 1


class PostingFactory(DjangoModelFactory):
    class Meta:
        model = Posting

    site = SubFactory(SiteFactory)
    event_id = Sequence(lambda number: f"posting-{number}")
    kind = "count"
    content_hash = "x"
    at = NOON
    recorded_at = SelfAttribute("at")


class MoveFactory(DjangoModelFactory):
    class Meta:
        model = Move

    posting = SubFactory(PostingFactory)
    item = SubFactory(ItemFactory, site=SelfAttribute("..posting.site"))
    source = SubFactory(PlaceFactory, site=SelfAttribute("..posting.site"))
    target = SubFactory(PlaceFactory, site=SelfAttribute("..posting.site"))
    quantity = 1


class LotFactory(DjangoModelFactory):
    class Meta:
        model = Lot

    item = SubFactory(ItemFactory)
    code = Sequence(lambda number: f"lot {number}")


class ReceiptFactory(DjangoModelFactory):
    class Meta:
        model = Receipt

    shipment = SubFactory(ShipmentFactory)
    posting = SubFactory(PostingFactory, site=SelfAttribute("..shipment.site"), kind="receipt")


class ReceiptLineFactory(DjangoModelFactory):
    """A count that answers a line of the packing list."""

    class Meta:
        model = ReceiptLine

    packing_line = SubFactory(PackingLineFactory)
    receipt = SubFactory(ReceiptFactory, shipment=SelfAttribute("..packing_line.shipment"))
    item = SelfAttribute("packing_line.item")
    counted = 1
    covers = SelfAttribute("counted")
