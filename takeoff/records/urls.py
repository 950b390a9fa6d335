"""The address that records are sent to."""

from django.urls import path

from takeoff.records import views

urlpatterns = [path("records/", views.records, name="records")]
