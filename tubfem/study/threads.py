"""One thread for products of small matrices: with more, threads wait for each other longer than they work.

That is so on a quiet machine, and the worse the more others want of it, since a waiting thread of BLAS keeps its core.
"""

from collections.abc import Callable
from functools import cache, wraps
from typing import ParamSpec, TypeVar

from threadpoolctl import ThreadpoolController

Asked = ParamSpec("Asked")
Answer = TypeVar("Answer")


def one_thread(function: Callable[Asked, Answer]) -> Callable[Asked, Answer]:
    """The function, with all its linear algebra in the thread that calls it."""

    @wraps(function)
    def alone(*args: Asked.args, **kwargs: Asked.kwargs) -> Answer:
        with _controller().limit(limits=1, user_api="blas"):
            return function(*args, **kwargs)

    return alone


@cache
def _controller() -> ThreadpoolController:
    """Finds the libraries that are loaded, which is done once; what calls this has NumPy and SciPy by then."""
    return ThreadpoolController()
