"""What runs here, for a report or a defect."""

from __future__ import annotations

import platform
from importlib.metadata import version

from sidon import _engine

__all__ = ["versions"]


def versions() -> dict[str, str]:
    """Versions of sidon and of what it stands on.

    Returns
    -------
    dict of str
        ``sidon``, ``build`` (``"release"`` or ``"debug"``), ``python``, ``numpy``, ``pydantic``,
        ``platform``.

    Examples
    --------
    >>> import sidon
    >>> sorted(sidon.versions())
    ['build', 'numpy', 'platform', 'pydantic', 'python', 'sidon']
    """
    return {
        **_engine.versions(),
        "python": platform.python_version(),
        "numpy": version("numpy"),
        "pydantic": version("pydantic"),
        "platform": platform.platform(),
    }
