"""Addresses of gang boxes."""

from django.urls import path

from kits.gang_boxes import views

urlpatterns = [
    path("", views.overview, name="gang_boxes"),
    path("fill/", views.fill, name="fill_gang_box"),
    path("<int:place_id>/", views.count, name="count_gang_box"),
]
