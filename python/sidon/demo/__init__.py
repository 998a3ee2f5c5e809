"""An invented weekend that `sidon demo` plans, and an invented place with its TV stations."""

from __future__ import annotations

from importlib.resources import files

__all__ = ["place_text", "stations_text", "study_text"]


def study_text() -> str:
    """Return the demonstration study as TOML text; everything in it is invented.

    Returns
    -------
    str
        What `sidon.Study.from_toml_text` reads.
    """
    return files(__package__).joinpath("study.toml").read_text(encoding="utf-8")


def place_text() -> str:
    """Return a study whose availability follows from region and stations, as TOML text.

    Returns
    -------
    str
        What `sidon.Study.from_file` reads with `stations_text` beside it as ``stations.csv``.
    """
    return files(__package__).joinpath("place.toml").read_text(encoding="utf-8")


def stations_text() -> str:
    """Return a table of TV stations in the open ocean, none of which exists, as CSV text.

    Returns
    -------
    str
        What `sidon.read_stations` reads from a file.
    """
    return files(__package__).joinpath("stations.csv").read_text(encoding="utf-8")
