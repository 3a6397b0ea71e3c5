"""Compile the core's loops, with all that they call, without a second copy of them.

The loops of `ebbline.core.curve` and `ebbline.core.rules` are plain Python. `compiled` rebuilds a
loop with every project function it names replaced by its compiled twin, and hands it to Numba, so
the sources stay free of Numba and a handful of tests starts without waiting for it.
"""

import hashlib
import types
from collections.abc import Callable
from functools import cache
from typing import Any

import numba


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
    return _twin(function)[0]


@cache
def _twin(function: Callable[..., Any]) -> tuple[Callable[..., Any], str]:
    """Return the compiled twin, and a digest of all that went into it.

    Numba keeps compiled code by the file of the outermost function only and would not see that a
    function it calls was edited; so the digest goes into the name it is kept under.
    """
    source = function.__globals__
    names = dict(source)
    code = function.__code__
    content = [repr((code.co_code, code.co_consts, code.co_names))]
    for name in code.co_names:
        named = source.get(name)
        if isinstance(named, types.FunctionType) and named.__module__.startswith("ebbline."):
            names[name], digest = _twin(named)
            content.append(digest)
        elif isinstance(named, int | float | tuple):
            content.append(repr(named))
    digest = hashlib.sha256("\n".join(content).encode()).hexdigest()[:16]
    twin = types.FunctionType(
        code, names, function.__name__, function.__defaults__, function.__closure__
    )
    twin.__module__ = function.__module__
    twin.__qualname__ = f"{function.__qualname__}_{digest}"
    return numba.njit(cache=True, nogil=True)(twin), digest
