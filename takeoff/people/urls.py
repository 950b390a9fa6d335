"""Addresses of signing in, choosing a site, and a site's members. `~` can stand in no site's name."""

from django.urls import path

from takeoff.people import views

urlpatterns = [
    path("", views.home, name="home"),
    path("~/sign-in/", views.sign_in, name="sign_in"),
    path("~/sign-out/", views.sign_out, name="sign_out"),
    path("~/password/", views.change_password, name="change_password"),
    path("~/theme/", views.theme, name="theme"),
    path("~/invited/<str:token>/", views.invited, name="invited"),
    path("<slug:site_slug>/members/", views.members, name="members"),
    path("<slug:site_slug>/members/<int:user_id>/", views.member, name="member"),
    path(
        "<slug:site_slug>/members/invitations/<int:invitation_id>/withdraw/",
        views.end_invitation,
        name="withdraw",
    ),
]
