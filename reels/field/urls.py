"""Addresses of reels and of what was cut off them."""

from django.urls import path

from reels.field import cut_views, views

urlpatterns = [
    path("reels/", views.reels, name="reels"),
    path("reels/find/", views.find, name="find_cable"),
    path("reels/doubts/", views.doubts, name="reel_doubts"),
    path("reels/doubts/seen/", views.seen, name="doubt_seen"),
    path("reels/<int:reel_id>/", views.reel, name="reel"),
    path("reels/<int:reel_id>/cut/", cut_views.cut_reel, name="cut_reel"),
    path("reels/<int:reel_id>/remnant/", cut_views.tag_remnant, name="tag_remnant"),
    path("cuts/<int:cut_id>/", cut_views.cut, name="cut"),
    path("cuts/<int:cut_id>/withdraw/", cut_views.withdraw, name="withdraw_cut"),
    path("cuts/<int:cut_id>/reverse/", cut_views.reverse_cut, name="reverse_cut"),
    path("cuts/<int:cut_id>/accept/", cut_views.accept, name="accept_cut"),
    path("cuts/<int:cut_id>/undo/", cut_views.undo_decision, name="undo_cut_decision"),
]
