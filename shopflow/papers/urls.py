from django.urls import path

app_name = "papers"
urlpatterns: list = []
