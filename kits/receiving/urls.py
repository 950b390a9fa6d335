"""Addresses of receiving: trucks, one shipment, one crate."""

from django.urls import path

from kits.receiving import views

urlpatterns = [
    path("", views.receiving, name="receiving"),
    path("named/", views.found_shipment, name="found_shipment"),
    path("reels/", views.reels, name="receiving_reels"),
    path("<int:shipment_id>/", views.shipment, name="receiving_shipment"),
    path("<int:shipment_id>/grid/", views.grid, name="receiving_grid"),
    path("<int:shipment_id>/report/", views.report, name="receiving_report"),
    path("<int:shipment_id>/report.xlsx", views.report_sheet, name="receiving_report_sheet"),
    path("<int:shipment_id>/loose/", views.crate, name="receiving_loose"),
    path("<int:shipment_id>/crates/<int:package_id>/", views.crate, name="receiving_package"),
]
