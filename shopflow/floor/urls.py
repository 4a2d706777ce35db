from django.urls import path

app_name = "floor"
urlpatterns: list = []
