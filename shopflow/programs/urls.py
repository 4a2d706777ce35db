from django.urls import path

app_name = "programs"
urlpatterns: list = []
