"""The reels floor."""

from django.apps import AppConfig


class ReelsConfig(AppConfig):
    """Names the floor for Django."""

    name = "reels"
