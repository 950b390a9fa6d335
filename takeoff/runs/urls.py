"""Addresses of the list of runs, and of what is reported about a run."""

from django.urls import path

from takeoff.runs import views

urlpatterns = [
    path("runs/", views.runs, name="runs"),
]
