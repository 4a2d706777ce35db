"""shopflow takes a job of a small milling shop from the customer's solid model to shipped, measured parts."""

from shopflow.celery import app as celery_app

__all__ = ["celery_app"]
