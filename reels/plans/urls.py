"""Addresses of cut plans."""

from django.urls import path

from reels.plans import views

urlpatterns = [
    path("", views.cut_plan, name="cut_plan"),
    path("<int:cable_id>/", views.cable, name="cut_plan_cable"),
    path("<int:cable_id>/ask/", views.ask, name="ask_cut_plan"),
    path("<int:cable_id>/compare/", views.compare, name="compare_cut_plans"),
    path("<int:cable_id>/list/", views.crew_list, name="cut_list"),
    path("<int:cable_id>/list/runs/<int:run_id>/", views.choose, name="choose_length"),
    path("<int:cable_id>/headroom/", views.headroom, name="headroom"),
    path("<int:cable_id>/plans/<int:plan_id>/progress/", views.progress, name="cut_plan_progress"),
    path("<int:cable_id>/plans/<int:plan_id>/accept/", views.accept, name="accept_cut_plan"),
    path("<int:cable_id>/plans/<int:plan_id>/stop/", views.stop, name="stop_cut_plan"),
    path("<int:cable_id>/plans/<int:plan_id>/cancel/", views.cancel, name="cancel_cut_plan"),
]
