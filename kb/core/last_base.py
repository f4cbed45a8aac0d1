"""Results kept for the base last asked for: one page or report asks for the same several times."""

from collections.abc import Callable
from functools import wraps
from typing import ParamSpec, TypeVar

P = ParamSpec("P")
T = TypeVar("T")


def kept_for_last_base(function: Callable[P, T]) -> Callable[P, T]:
    """A pure function of a base and of further arguments that can be keys; none by name.

    What was found for another base is forgotten as soon as a new one is asked about.
    """
    held: dict[tuple[object, ...], T] = {}
    last: list[object] = [None]

    @wraps(function)
    def asked(*given: P.args, **named: P.kwargs) -> T:
        base, *rest = given
        if last[0] is not base:
            held.clear()
            last[0] = base
        key = tuple(rest)
        if key not in held:
            held[key] = function(*given, **named)
        return held[key]

    return asked
