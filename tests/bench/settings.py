"""The real settings with the no-op's address."""

from config.settings import *  # noqa: F403

ROOT_URLCONF = "tests.bench.urls"
CELERY_BROKER_URL = services.broker_url(BASE_DIR, db=2)  # noqa: F405
