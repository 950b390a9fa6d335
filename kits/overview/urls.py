"""Addresses of Today and of a run's page."""

from django.urls import path

from kits.overview import views

urlpatterns = [
    path("", views.today, name="today"),
    path("runs/<int:run_id>/", views.run, name="run"),
]
