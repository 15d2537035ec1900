"""The real settings with the no-op's address, and messages that stay within one run."""

import os

from config.settings import *  # noqa: F403

if collected := os.environ.get("BENCH_STATIC"):  # files as in production: collected, compressed
    STATIC_ROOT = collected
    STORAGES["staticfiles"] = {  # noqa: F405
        "BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"
    }
    WHITENOISE_USE_FINDERS = WHITENOISE_AUTOREFRESH = False

ROOT_URLCONF = "tests.bench.urls"
CELERY_BROKER_URL = services.broker_url(BASE_DIR, db=2)  # noqa: F405
# Handed down to the workers: those of a run beside this one must not take its messages.
CELERY_TASK_DEFAULT_QUEUE = os.environ.setdefault("BENCH_QUEUE", f"bench-{os.getpid()}")
CELERY_TASK_ROUTES = {
    name: {"queue": f"{CELERY_TASK_DEFAULT_QUEUE}-{route['queue']}"}
    for name, route in CELERY_TASK_ROUTES.items()  # noqa: F405
}
