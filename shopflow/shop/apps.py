from django.apps import AppConfig


class ShopConfig(AppConfig):
    name = "shopflow.shop"
