"""The real settings, on loopback without TLS, with a key of their own and quick passwords."""

import os

os.environ.setdefault("SECRET_KEY", "only-for-tests")
os.environ.setdefault("TLS", "off")
os.environ.setdefault("PUBLIC_URL", "http://testserver")
os.environ.setdefault("EMAIL_URL", "memorymail://")

from config.settings import *  # noqa: F403

PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
# Nothing collects static files before tests.
STORAGES = {
    **STORAGES,  # noqa: F405
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}

# What tests sign is not signed with the key of this checkout.
SIGNING_DIR = VAR_DIR / "test-signing"  # noqa: F405

# Messages of tests are none of a demo's that runs beside them.
CELERY_BROKER_URL = services.broker_url(BASE_DIR, db=1)  # noqa: F405
