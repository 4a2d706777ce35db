from django.urls import path

from shopflow.people import views

app_name = "people"
urlpatterns = [
    path("", views.list_people, name="list"),
    path("log-in/", views.log_in_by_password, name="log_in"),
    path("station/", views.log_in_by_badge, name="station_log_in"),
    path("log-out/", views.log_out, name="log_out"),
    path("me/", views.me, name="me"),
    path("me/units/", views.my_units, name="my_units"),
    path("me/password/", views.my_password, name="my_password"),
    path("me/pin/", views.my_pin, name="my_pin"),
    path("add/", views.add, name="add"),
    path("<int:person_id>/", views.edit, name="edit"),
    path("<int:person_id>/password/", views.give_password, name="give_password"),
    path("<int:person_id>/badge/", views.issue_badge, name="issue_badge"),
    path("<int:person_id>/badge/take/", views.take_badge, name="take_badge"),
]
