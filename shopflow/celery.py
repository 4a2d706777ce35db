"""The Celery application; tasks carry ids only, the rows they name are the truth (records.work)."""

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shopflow.settings")

app = Celery("shopflow")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()
