from django.urls import path

from shopflow.workflow import views

app_name = "workflow"
urlpatterns = [
    path("", views.home, name="home"),
    path("changes/", views.changes, name="changes"),
    path("search/", views.search, name="search"),
    path("strip/<int:job_id>/", views.strip, name="strip"),
    path("job/<int:job_id>/", views.job, name="job"),
    path("job/<int:job_id>/gate/", views.gate, name="gate"),
    path("job/<int:job_id>/history/", views.history, name="history"),
    path("job/<int:job_id>/advance/", views.advance, name="advance"),
    path("job/<int:job_id>/hold/", views.hold, name="hold"),
    path("job/<int:job_id>/resume/", views.resume, name="resume"),
    path("job/<int:job_id>/packet/", views.packet, name="packet"),
    path("job/<int:job_id>/ship/", views.ship, name="ship"),
    path("job/<int:job_id>/take-back/", views.take_back, name="take_back"),
]
