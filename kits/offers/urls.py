"""The address of the offers."""

from django.urls import path

from kits.offers import views

urlpatterns = [path("", views.offers, name="offers")]
