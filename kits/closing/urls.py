"""Addresses of the pages that close a site or a run."""

from django.urls import path

from kits.closing import views

urlpatterns = [
    path("", views.close_out, name="close_out"),
    path("workbook/", views.workbook, name="close_out_workbook"),
    path("use/", views.take_over, name="take_over_prior"),
    path("<int:run_id>/", views.close_run, name="close_run"),
    path("<int:run_id>/workbook/", views.run_workbook, name="close_run_workbook"),
]
