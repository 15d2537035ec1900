"""Compiling the inner loops: once per machine, kept beside the source."""

from collections.abc import Callable
from typing import TypeVar, cast

from numba import njit

F = TypeVar("F", bound=Callable[..., object])


def compiled(function: F) -> F:
    """Compile to machine code that runs without Python's lock."""
    return cast(F, njit(cache=True, nogil=True)(function))
