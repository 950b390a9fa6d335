"""Addresses of stock, by item and by place."""

from django.urls import path

from kits.stock import views

urlpatterns = [
    path("", views.stock, name="stock"),
    path("places/", views.places, name="stock_places"),
    path("places/<int:place_id>/", views.place, name="stock_place"),
    path("places/<int:place_id>/count/", views.count, name="count_place"),
    path("places/<int:place_id>/set-up/", views.set_up, name="set_up_bin"),
    path("places/<int:place_id>/<slug:name>/", views.place_act, name="place_act"),
    path("held/", views.held, name="stock_held"),
    path("acts/<int:posting_id>/", views.posting, name="stock_act"),
    path("items/<int:item_id>/", views.item, name="stock_item"),
]
