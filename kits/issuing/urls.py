"""Addresses of handing out."""

from django.urls import path

from kits.issuing import views

urlpatterns = [
    path("", views.hand_out, name="hand_out"),
    path("names/", views.name, name="add_name"),
    path("debts/", views.owed, name="debts"),
    path("<int:run_id>/<str:stage>/", views.pick, name="pick_list"),
]
