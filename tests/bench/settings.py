"""The real settings with the no-op's address."""

from config.settings import *  # noqa: F403

ROOT_URLCONF = "tests.bench.urls"
