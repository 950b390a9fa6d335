"""Addresses of Today, of the list of runs and of a run's page."""

from django.urls import path

from kits.overview import views

urlpatterns = [
    path("", views.today, name="today"),
    path("runs/", views.runs, name="runs"),
    path("runs/<int:run_id>/", views.run, name="run"),
    path("runs/<int:run_id>/length/", views.report_length, name="report_length"),
    path("runs/<int:run_id>/length/<int:measurement_id>/take-back/", views.take_back, name="take_back_length"),
    path("runs/<int:run_id>/stage/", views.report_stage, name="report_stage"),
    path("runs/<int:run_id>/stage/take-back/", views.take_back_stage, name="take_back_stage"),
    path("runs/<int:run_id>/used/", views.answer_use, name="answer_use"),
    path("runs/<int:run_id>/takeoff/<int:line_id>/", views.takeoff_line, name="takeoff_line"),
    path("runs/<int:run_id>/takeoff/<int:line_id>/set/", views.set_quantity, name="set_quantity"),
    path("runs/<int:run_id>/takeoff/<int:line_id>/withdraw/", views.count_as_computed, name="withdraw_override"),
]
