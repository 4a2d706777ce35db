from django.urls import path

from shopflow.papers import views

app_name = "papers"
urlpatterns = [
    path("traveler/<int:packet_id>/", views.traveler, name="traveler"),
    path("traveler/<int:packet_id>/work/", views.work, name="work"),
    path("traveler/<int:packet_id>/scan/", views.scan_traveler, name="scan_traveler"),
    path("job/<int:job_id>/<slug:kind>/", views.ask, name="ask"),
    path("<int:paper_id>/", views.paper, name="paper"),
    path("<int:paper_id>/work/", views.paper_work, name="paper_work"),
    path("<int:paper_id>/again/", views.again, name="again"),
    path("<int:paper_id>/scan/", views.scan, name="scan"),
]
