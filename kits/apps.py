"""The kits floor."""

from django.apps import AppConfig


class KitsConfig(AppConfig):
    """Names the floor for Django, and brings its tables into the sheets."""

    name = "kits"

    def ready(self) -> None:
        """Register the tables of every room."""
        from takeoff.sheets.registry import discover

        discover(self.name)
