from django.urls import path

from shopflow.papers import views

app_name = "papers"
urlpatterns = [
    path("traveler/<int:packet_id>/", views.traveler, name="traveler"),
    path("traveler/<int:packet_id>/work/", views.work, name="work"),
]
