"""The kits floor."""

from django.apps import AppConfig


class KitsConfig(AppConfig):
    """Names the floor for Django."""

    name = "kits"
