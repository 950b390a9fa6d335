"""Addresses of loading sheets."""

from django.urls import path

from takeoff.uploads import views

urlpatterns = [
    path("", views.load_sheets, name="load_sheets"),
    path("empty/", views.empty_tables, name="empty_tables"),
    path("empty/<str:table>/", views.empty_tables, name="empty_table"),
    path("<uuid:token>/", views.upload, name="upload"),
    path("<uuid:token>/confirm/", views.confirm, name="confirm_upload"),
]
