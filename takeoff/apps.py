"""The takeoff floor."""

from django.apps import AppConfig
from django.db.models.signals import post_migrate

from takeoff.database.append_only import install_after_migrate


class TakeoffConfig(AppConfig):
    """Names the floor for Django."""

    name = "takeoff"
    append_only = {
        "RuleBook": "publish a new version",
        "Rule": "publish a new version",
        "LengthChoice": "choose again: the latest rules",
        "Record": "take it back by another record",
        "SetAside": "place or drop it",
        "AsideEnd": "an end stands",
        "Photo": "take it away, with a reason",
        "PhotoRemoved": "send the photo again under a new id",
        "Link": "find out who wants it changed",
    }

    def ready(self) -> None:
        """Guard what was recorded, after every migrate, and bring this floor's tables into the sheets."""
        from takeoff.records import services  # noqa: F401  # the door by which sheets bring what happened
        from takeoff.sheets import site_table  # noqa: F401  # its room reads the tables of all others
        from takeoff.sheets.registry import discover

        post_migrate.connect(install_after_migrate, sender=self)
        discover(self.name)
