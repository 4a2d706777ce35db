"""Settings of the plain-http door of a shop on its network: the page that installs its certificate, and nothing more.

A process of its own, that opens no database and knows no session: what it serves anybody on the network may read.
"""

from shopflow.settings import *  # noqa: F403

ROOT_URLCONF = "shopflow.deploy.install_page"
INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.staticfiles",
    "csp",
    "shopflow.records",
    "shopflow.people",
]
MIDDLEWARE = [
    "shopflow.logs.request_id",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.middleware.locale.LocaleMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
]
SECURE_SSL_REDIRECT = False  # the page sends on by itself what is not its own
SECURE_HSTS_SECONDS = 0
