from django.urls import path

from shopflow.floor import as_run_views, device_views, read_back_views, views

app_name = "floor"
urlpatterns = [
    path("", views.stations, name="stations"),
    path("job/<int:job_id>/read-backs/", read_back_views.of_job, name="read_backs"),
    path("read-back/<int:read_back_id>/", read_back_views.read_back, name="read_back"),
    path("read-back/<int:read_back_id>/work/", read_back_views.work, name="read_back_work"),
    path("read-back/<int:read_back_id>/accept/", read_back_views.accept, name="read_back_accept"),
    path("read-back/<int:read_back_id>/judge/", read_back_views.judge, name="read_back_judge"),
    path("read-back/<int:read_back_id>/file/", read_back_views.file, name="read_back_file"),
    path("job/<int:job_id>/as-run/", as_run_views.of_job, name="as_run_of_job"),
    path("as-run/<int:as_run_id>/photo/", as_run_views.picture, name="as_run_photo"),
    path("station/<slug:key>/", views.station, name="station"),
    path("lot/<int:lot_id>/op/<int:step_id>/", views.op, name="op"),
    path("lot/<int:lot_id>/op/<int:step_id>/start/", views.start, name="start"),
    path("lot/<int:lot_id>/op/<int:step_id>/send-back/", read_back_views.send_back, name="send_back"),
    path("lot/<int:lot_id>/op/<int:step_id>/photo/", as_run_views.photo, name="photo"),
    path("lot/<int:lot_id>/op/<int:step_id>/<slug:what>/", views.report, name="report"),
    path("packet/<int:packet_id>/op/<int:step_id>/", views.scan, name="scan"),
    path("copy/<int:copy_id>/", views.copy, name="copy"),
    path("scanned/", views.scanned, name="scanned"),
    path("worker.js", device_views.worker, name="worker"),
    path("away/", device_views.away, name="away"),
]
