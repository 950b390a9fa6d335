"""Addresses of claims."""

from django.urls import path

from kits.claims import views

urlpatterns = [
    path("", views.claims, name="claims"),
    path("<int:claim_id>/", views.claim, name="claim"),
    path("supplier/<int:supplier_id>/", views.letter, name="supplier_letter"),
    path("supplier/<int:supplier_id>/workbook/", views.letter_sheet, name="supplier_letter_sheet"),
]
