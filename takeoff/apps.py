"""The takeoff floor."""

from django.apps import AppConfig


class TakeoffConfig(AppConfig):
    """Names the floor for Django."""

    name = "takeoff"
