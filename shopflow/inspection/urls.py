from django.urls import path

from shopflow.inspection import sampling_views, views

app_name = "inspection"
urlpatterns = [
    path("", views.bench, name="bench"),
    path("lot/<int:lot_id>/op/<int:step_id>/", views.lot, name="lot"),
    path("lot/<int:lot_id>/op/<int:step_id>/measure/", views.measure, name="measure"),
    path("lot/<int:lot_id>/op/<int:step_id>/gauge/", views.gauge, name="gauge"),
    path("lot/<int:lot_id>/op/<int:step_id>/found/", views.found, name="found"),
    path("lot/<int:lot_id>/op/<int:step_id>/pass/", views.pass_pieces, name="pass"),
    path("sampling/<int:characteristic_id>/", sampling_views.sampling, name="sampling"),
    path("nonconformance/<int:nonconformance_id>/place/", views.place, name="place"),
    path("nonconformance/<int:nonconformance_id>/dispose/", views.dispose, name="dispose"),
]
