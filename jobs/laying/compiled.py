"""One decorator for the numeric kernels, so that they are compiled and typed alike."""

from collections.abc import Callable
from typing import TypeVar, cast

from numba import njit

F = TypeVar("F", bound=Callable[..., object])


def compiled(function: F) -> F:
    """Compile a kernel to machine code at its first call; kept on disk for the next process."""
    return cast(F, njit(cache=True, fastmath=True)(function))
