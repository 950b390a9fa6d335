"""Addresses of stock, by item and by place."""

from django.urls import path

from kits.stock import views

urlpatterns = [
    path("", views.stock, name="stock"),
    path("places/", views.places, name="stock_places"),
    path("places/<int:place_id>/", views.place, name="stock_place"),
    path("items/<int:item_id>/", views.item, name="stock_item"),
]
