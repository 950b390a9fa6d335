"""The address of what is on the way between sites."""

from django.urls import path

from kits.transfers import views

urlpatterns = [path("transit/", views.transit, name="stock_transit")]
