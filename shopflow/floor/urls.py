from django.urls import path

from shopflow.floor import device_views, views

app_name = "floor"
urlpatterns = [
    path("", views.stations, name="stations"),
    path("station/<slug:key>/", views.station, name="station"),
    path("lot/<int:lot_id>/op/<int:step_id>/", views.op, name="op"),
    path("lot/<int:lot_id>/op/<int:step_id>/start/", views.start, name="start"),
    path("lot/<int:lot_id>/op/<int:step_id>/<slug:what>/", views.report, name="report"),
    path("packet/<int:packet_id>/op/<int:step_id>/", views.scan, name="scan"),
    path("copy/<int:copy_id>/", views.copy, name="copy"),
    path("scanned/", views.scanned, name="scanned"),
    path("worker.js", device_views.worker, name="worker"),
    path("away/", device_views.away, name="away"),
]
