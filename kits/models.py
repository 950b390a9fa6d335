"""The models of this floor's rooms, gathered for Django."""

from kits.claims.models import Claim, ClaimLine, ClaimStep
from kits.gate.models import Arrival, ArrivedPackage, TruckCall
from kits.orders.models import Order, OrderLine
from kits.promises.models import Kit, KitBox, KitLine
from kits.receiving.models import Receipt, ReceiptLine
from kits.shipments.models import Package, PackingLine, Shipment
from kits.stock.models import Balance, BinCount, BoxShare, Lot, LotDay, Move, Posting

__all__ = [
    "Arrival",
    "ArrivedPackage",
    "Balance",
    "BinCount",
    "BoxShare",
    "Claim",
    "ClaimLine",
    "ClaimStep",
    "Kit",
    "KitBox",
    "KitLine",
    "Lot",
    "LotDay",
    "Move",
    "Order",
    "OrderLine",
    "Package",
    "PackingLine",
    "Posting",
    "Receipt",
    "ReceiptLine",
    "Shipment",
    "TruckCall",
]
