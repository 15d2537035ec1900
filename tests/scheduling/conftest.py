"""Property tests that find the same things every time."""

from hypothesis import settings

settings.register_profile("firstwarm", derandomize=True, deadline=None)
settings.load_profile("firstwarm")
