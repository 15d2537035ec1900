"""Compiling the inner loops: once per machine, kept beside the source."""

from collections.abc import Callable
from typing import Any, TypeVar, cast

from numba import njit

F = TypeVar("F", bound=Callable[..., object])

OPTIONS: dict[str, Any] = {"cache": True, "nogil": True, "_nrt": False}


def compiled(function: F) -> F:
    """Compile to machine code that runs without Python's lock.

    The function must not allocate: without numba's runtime (`_nrt`) no call counts references to
    the tables that it is handed, which took two thirds of the time. With it gone a function that
    would allocate does not compile.
    """
    return cast(F, njit(**OPTIONS)(function))
