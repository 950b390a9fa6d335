"""Addresses of the foreman's day."""

from django.urls import path

from kits.pulling import views

urlpatterns = [
    path("", views.sets, name="pull"),
    path("<int:run_id>/", views.run, name="pull_run"),
    path("<int:run_id>/bundle.json", views.bundle, name="pull_bundle"),
    path("<int:run_id>/stand/", views.stand, name="stand"),
]
