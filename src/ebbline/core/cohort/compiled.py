"""Compile the core's loops, with all that they call, without a second copy of them.

The loops of `ebbline.core.curve` and `ebbline.core.rules` are plain Python. `compiled` rebuilds a
loop with every project function it names replaced by its compiled twin, and hands it to Numba, so
the sources stay free of Numba and a handful of tests starts without waiting for it.
"""

import types
from collections.abc import Callable
from functools import cache
from typing import Any

import numba


@cache
def compiled(function: Callable[..., Any]) -> Callable[..., Any]:
    """Return the compiled twin of one of the core's loops.

    Parameters
    ----------
    function : callable
        A plain function on floats, integers and arrays, from a module of ebbline.

    Returns
    -------
    callable
        Takes the same arguments and gives the same answer; it releases the interpreter lock and is
        kept on disk between runs.
    """
    if not isinstance(function, types.FunctionType):
        raise TypeError(f"only a plain function can be compiled, not {function!r}")
    names = dict(function.__globals__)
    for name in function.__code__.co_names:
        called = names.get(name)
        if isinstance(called, types.FunctionType) and called.__module__.startswith("ebbline."):
            names[name] = compiled(called)
    twin = types.FunctionType(
        function.__code__, names, function.__name__, function.__defaults__, function.__closure__
    )
    twin.__module__ = function.__module__
    twin.__qualname__ = function.__qualname__
    return numba.njit(cache=True, nogil=True)(twin)
