"""Which methods there are: built in, registered by other packages, or a callable at hand."""

from __future__ import annotations

from typing import TYPE_CHECKING, cast, get_args

from sidon._entry_points import load, provider, registered
from sidon._options import Method

if TYPE_CHECKING:
    from sidon.heuristics import Heuristic

__all__ = ["heuristic_of", "method_name", "methods"]


def methods() -> dict[str, str]:
    """List the methods that `sidon.solve` knows by name.

    A package registers its own under the entry point group ``sidon.methods``::

        [project.entry-points."sidon.methods"]
        my-search = "my_package.search:my_search"

    where ``my_search(state, run)`` is a heuristic as `sidon.solve` takes it. A built-in method
    keeps its name whatever is registered.

    Returns
    -------
    dict of str to str
        By name the package, with its version, that brings the method; ``"sidon"`` for the built-in
        ones, which come first. What is registered is listed without being imported.

    See Also
    --------
    solve : Takes one of these names.

    Examples
    --------
    >>> import sidon
    >>> sidon.methods()["dsatur"]
    'sidon'
    """
    built_in = dict.fromkeys(get_args(Method), "sidon")
    others = {
        name: " and ".join(dict.fromkeys(map(provider, points)))
        for name, points in registered().items()
        if name not in built_in
    }
    return {**built_in, **others}


def heuristic_of(method: object) -> Heuristic | None:
    """Find the heuristic behind a method that `check_options` let pass.

    Parameters
    ----------
    method : str or callable
        A name, or the heuristic itself.

    Returns
    -------
    callable or None
        None for a built-in method.

    Raises
    ------
    MethodError
        The package that registers the name is broken.
    """
    if not isinstance(method, str):
        return cast("Heuristic", method)
    if method in get_args(Method):
        return None
    return cast("Heuristic", load(method, registered()[method]))


def method_name(method: object) -> str:
    """Name a method in a document: its name, or that of the callable."""
    if isinstance(method, str):
        return method
    return str(getattr(method, "__qualname__", type(method).__qualname__))
