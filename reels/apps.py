"""The reels floor."""

from django.apps import AppConfig


class ReelsConfig(AppConfig):
    """Names the floor for Django, and brings its tables into the sheets."""

    name = "reels"

    def ready(self) -> None:
        """Register the tables of every room."""
        from takeoff.sheets.registry import discover

        discover(self.name)
