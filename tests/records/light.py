"""Settings of the processes that these tests start and kill: records and the people it names, which start quickly."""

from tests.settings import *  # noqa: F403
from tests.settings import INSTALLED_APPS

NEEDED = {"shopflow.records", "shopflow.people"}
INSTALLED_APPS = [app for app in INSTALLED_APPS if not app.startswith("shopflow.") or app in NEEDED]
ROOT_URLCONF = __name__
urlpatterns: list[object] = []
