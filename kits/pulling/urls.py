"""Addresses of the foreman's day."""

from django.urls import path

from kits.pulling import views

urlpatterns = [
    path("", views.sets, name="pull"),
    path("<int:run_id>/", views.run, name="pull_run"),
    path("<int:run_id>/bundle.json", views.bundle, name="pull_bundle"),
    path("<int:run_id>/stand/", views.stand, name="stand"),
    path("<int:run_id>/list/", views.on_paper, name="pull_list"),
    path("<int:run_id>/enter/", views.enter, name="pull_enter"),
]
