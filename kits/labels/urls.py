"""Addresses of labels: the short one that a code holds, and the pages on which labels are printed and read."""

from django.urls import path

from kits.labels import views

urlpatterns = [
    path("t/<slug:code>/", views.labelled, name="labelled"),
    path("labels/", views.labels, name="labels"),
    path("labels/printed/", views.printed, name="labels_printed"),
    path("labels/find/", views.find, name="find_label"),
    path("labels/<slug:code>/", views.label, name="label"),
]
