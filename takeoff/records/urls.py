"""Addresses of records: where they are sent, and where those stand that wait to be placed."""

from django.urls import path

from takeoff.records import views

urlpatterns = [
    path("act/undo/", views.undo, name="undo"),
    path("act/<slug:kind_name>/", views.act, name="act"),
    path("records/", views.records, name="records"),
    path("records/waiting/", views.waiting, name="waiting_records"),
    path("records/waiting/<int:aside_id>/", views.aside, name="waiting_record"),
]
