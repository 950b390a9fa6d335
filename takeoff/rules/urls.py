"""Addresses of rule books."""

from django.urls import path

from takeoff.rules import views

urlpatterns = [
    path("", views.rules, name="rules"),
    path("<int:version>/", views.rules, name="rule_book"),
    path("<int:version>/sheet/", views.book_sheet, name="rule_book_sheet"),
]
