from django.urls import path

app_name = "jobs"
urlpatterns: list = []
