"""Addresses of the gate."""

from django.urls import path

from kits.gate import views

urlpatterns = [
    path("trucks/new/", views.new_truck, name="new_truck"),
    path("<int:shipment_id>/gate/", views.gate, name="gate"),
]
