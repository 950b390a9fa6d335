"""Addresses of the list of runs, and of what is reported about a run."""

from django.urls import path

from takeoff.runs.views import runs

urlpatterns = [
    path("runs/", runs, name="runs"),
]
