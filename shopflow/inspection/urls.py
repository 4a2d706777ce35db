from django.urls import path

app_name = "inspection"
urlpatterns: list = []
