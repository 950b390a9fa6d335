"""Addresses of claims."""

from django.urls import path

from kits.claims import views

urlpatterns = [
    path("", views.claims, name="claims"),
    path("<int:claim_id>/", views.claim, name="claim"),
]
