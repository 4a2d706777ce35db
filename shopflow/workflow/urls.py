from django.urls import path

app_name = "workflow"
urlpatterns: list = []
