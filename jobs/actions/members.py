"""People of a contractor."""

from jobs.models import Member


def change_own_settings(*, by: Member, name: str, language: str, scheme: str) -> None:
    """Set how one is called and how pages look to one."""
    Member.objects.filter(pk=by.pk).update(name=name, language=language, scheme=scheme)
