"""Finding any part of a name, or a number as it is dialled."""

from django.contrib.postgres.indexes import GinIndex, OpClass
from django.db import models
from django.db.models.functions import Upper


class Digits(models.Func):
    """The digits of a text, as whoever dials them types them."""

    function = "regexp_replace"
    template = "%(function)s(%(expressions)s, '[^0-9]', '', 'g')"
    output_field = models.TextField()


def looked_for_in(field: str, *, name: str) -> GinIndex:
    """An index that finds any part of a text, in upper or lower case."""
    return GinIndex(OpClass(Upper(field), name="gin_trgm_ops"), name=name)
