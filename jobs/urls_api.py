"""API addresses of jobs."""
urlpatterns: list = []
