"""Addresses of shortages."""

from django.urls import path

from kits.shortages import views

urlpatterns = [
    path("", views.shortages, name="shortages"),
    path("items/<int:item_id>/", views.shortage, name="shortage"),
]
