"""The reels floor."""

from django.apps import AppConfig
from django.db.models.signals import post_migrate

from takeoff.database.append_only import install_after_migrate


class ReelsConfig(AppConfig):
    """Names the floor for Django."""

    name = "reels"
    append_only = {
        "Cut": "withdraw it or reverse it",
        "CutDecision": "take it back by its id",
        "ReelEvent": "take it back by its id",
        "Reading": "take it back by its id",
        "DoubtSeen": "take it back by its id",
    }

    def ready(self) -> None:
        """Guard what was recorded, after every migrate, and bring this floor's tables into the sheets."""
        from takeoff.sheets.registry import discover

        post_migrate.connect(install_after_migrate, sender=self)
        discover(self.name)
