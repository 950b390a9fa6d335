"""Addresses of the phone's queue. `~` can stand in no site's name."""

from django.urls import path

from takeoff.device import views

urlpatterns = [
    path("~/waiting/", views.queue, name="device_queue"),
    path("~/worker.js", views.worker, name="device_worker"),
    path("~/manifest.webmanifest", views.manifest, name="device_manifest"),
    path("~/token/", views.token, name="device_token"),
    path("<slug:site_slug>/phone/", views.pages, name="device_pages"),
]
