"""The kits floor."""

from django.apps import AppConfig
from django.db.models.signals import post_migrate

from takeoff.database.append_only import install_after_migrate


class KitsConfig(AppConfig):
    """Names the floor for Django."""

    name = "kits"
    append_only = {
        "Posting": "post a reversal",
        "Move": "post a reversal",
        "BinCount": "post a reversal",
        "BoxShare": "post a reversal",
        "LotDay": "say the right day in a new record",
        "Receipt": "post a reversal",
        "Arrival": "take it back by another record",
        "ArrivedPackage": "take its arrival back",
        "TruckCall": "take it back by another record",
        "ReceiptLine": "post a reversal",
        "Claim": "take back its steps",
        "ClaimLine": "take back the step that opened its claim",
        "ClaimStep": "take it back by another record",
    }

    def ready(self) -> None:
        """Guard what was recorded, after every migrate, and bring this floor's tables into the sheets."""
        from kits.overview import phone_pages  # noqa: F401  # which pages phones keep
        from takeoff.sheets.registry import discover

        post_migrate.connect(install_after_migrate, sender=self)
        discover(self.name)
