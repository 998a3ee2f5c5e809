"""Methods that other packages register under the entry point group ``sidon.methods``."""

from __future__ import annotations

from importlib.metadata import EntryPoint, entry_points

from sidon.exceptions import MethodError

__all__ = ["GROUP", "load", "provider", "registered"]

GROUP = "sidon.methods"


def registered() -> dict[str, list[EntryPoint]]:
    """Find what is registered, by name; more than one under a name is for `load` to refuse.

    Returns
    -------
    dict of str to list of EntryPoint
        Sorted by name. Read anew at every call, so that what is installed meanwhile is found.
    """
    found: dict[str, dict[tuple[str, str], EntryPoint]] = {}
    for point in entry_points(group=GROUP):
        # A folder that stands on the path twice yields its packages twice.
        found.setdefault(point.name, {})[provider(point), point.value] = point
    return {name: [points[key] for key in sorted(points)] for name, points in sorted(found.items())}


def provider(point: EntryPoint) -> str:
    """Name the package of an entry point, with its version."""
    if point.dist is None:
        return "an unknown package"
    return f"{point.dist.name} {point.dist.version}"


def load(name: str, points: list[EntryPoint]) -> object:
    """Import what is registered under a name.

    Parameters
    ----------
    name : str
        The name.
    points : list of EntryPoint
        What `registered` found under it.

    Returns
    -------
    callable
        The heuristic.

    Raises
    ------
    MethodError
        Several packages register the name, or what is registered fails to import or is no
        callable. The package is named.
    """
    packages = " and ".join(dict.fromkeys(map(provider, points)))
    what = f"the method {name!r} of the package {packages}"
    if len(points) > 1:
        values = ", ".join(point.value for point in points)
        raise MethodError(what, f"it is registered more than once ({values})", "keep one of them")
    [point] = points
    remedy = f"mend or uninstall {packages}"
    try:
        method = point.load()
    except Exception as error:
        why = f"{point.value} fails to import: {type(error).__name__}: {error}"
        raise MethodError(what, why, remedy) from error
    if not callable(method):
        why = f"{point.value} is an object of type {type(method).__name__}, not a callable"
        raise MethodError(what, why, remedy)
    loaded: object = method
    return loaded
