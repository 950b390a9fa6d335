"""Addresses of shortages and of the workbooks to order from."""

from django.urls import path

from kits.shortages import views

urlpatterns = [
    path("", views.shortages, name="shortages"),
    path("items/<int:item_id>/", views.shortage, name="shortage"),
    path("workbooks/<int:supplier_id>/", views.workbook, name="reorder_workbook"),
]
