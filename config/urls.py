"""The addresses of every page: those outside any site first, then those of a site, room by room."""

from django.urls import include, path

urlpatterns = [
    path("", include("takeoff.people.urls")),
    path("", include("takeoff.device.urls")),
    path("<slug:site_slug>/", include("kits.overview.urls")),
    path("<slug:site_slug>/load/", include("takeoff.uploads.urls")),
    path("<slug:site_slug>/", include("takeoff.records.urls")),
    path("<slug:site_slug>/photos/", include("takeoff.photos.urls")),
    path("<slug:site_slug>/rules/", include("takeoff.rules.urls")),
    path("<slug:site_slug>/receiving/", include("kits.receiving.urls")),
    path("<slug:site_slug>/receiving/", include("kits.gate.urls")),
    path("<slug:site_slug>/receiving/claims/", include("kits.claims.urls")),
    path("<slug:site_slug>/hand-out/", include("kits.issuing.urls")),
    path("<slug:site_slug>/hand-out/boxes/", include("kits.gang_boxes.urls")),
    path("<slug:site_slug>/pull/", include("kits.pulling.urls")),
    path("<slug:site_slug>/stock/", include("kits.stock.urls")),
    path("<slug:site_slug>/stock/", include("kits.transfers.urls")),
    path("<slug:site_slug>/", include("kits.labels.urls")),
    path("<slug:site_slug>/", include("reels.field.urls")),
    path("<slug:site_slug>/cut-plan/", include("reels.plans.urls")),
    path("<slug:site_slug>/shortages/", include("kits.shortages.urls")),
    path("<slug:site_slug>/", include("kits.reorders.urls")),
    path("<slug:site_slug>/offers/", include("kits.offers.urls")),
    path("<slug:site_slug>/close-out/", include("kits.closing.urls")),
]
