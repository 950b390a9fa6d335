"""Addresses of photos: where they are sent, and where each is seen and taken away."""

from django.urls import path

from takeoff.photos import views

urlpatterns = [
    path("", views.photos, name="photos"),
    path("<uuid:uuid>/", views.photo, name="photo"),
    path("<uuid:uuid>/small/", views.small_photo, name="small_photo"),
    path("<uuid:uuid>/remove/", views.remove, name="remove_photo"),
]
