"""Addresses of orders, and of the workbooks to order from."""

from django.urls import path

from kits.reorders import act_views, views

urlpatterns = [
    path("shortages/workbooks/<int:supplier_id>/", views.workbook, name="reorder_workbook"),
    path("orders/", views.orders, name="orders"),
    path("orders/found/", views.found_order, name="found_order"),
    path("orders/new/", views.new_order, name="new_order"),
    path("orders/<int:order_id>/", views.order, name="order"),
    path("orders/<int:order_id>/change/", act_views.change, name="change_order"),
    path("orders/<int:order_id>/change/add/", act_views.add_order_line, name="add_order_line"),
    path("orders/<int:order_id>/change/<int:line_id>/", act_views.change_order_line, name="change_order_line"),
    path("orders/<int:order_id>/change/<int:line_id>/out/", act_views.take_line_out, name="take_line_out"),
    path("orders/<int:order_id>/ask/", act_views.act_on, {"what": "ask"}, name="ask_for_order"),
    path("orders/<int:order_id>/send/", views.send, name="send_order"),
    path("orders/<int:order_id>/reply/", act_views.reply, name="order_reply"),
    path("orders/<int:order_id>/chase/", act_views.act_on, {"what": "chase"}, name="chase_order"),
    path("orders/<int:order_id>/cancel/", act_views.act_on, {"what": "cancel"}, name="cancel_order"),
    path("orders/<int:order_id>/files/<int:revision>/", views.file, name="order_file"),
]
