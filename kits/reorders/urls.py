"""Addresses of the workbooks to order from."""

from django.urls import path

from kits.reorders import views

urlpatterns = [path("workbooks/<int:supplier_id>/", views.workbook, name="reorder_workbook")]
