from django.urls import path

app_name = "shop"
urlpatterns: list = []
