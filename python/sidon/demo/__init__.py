"""An invented weekend: the study that `sidon demo` plans."""

from __future__ import annotations

from importlib.resources import files

__all__ = ["study_text"]


def study_text() -> str:
    """Return the demonstration study as TOML text; everything in it is invented.

    Returns
    -------
    str
        What `sidon.Study.from_toml_text` reads.
    """
    return files(__package__).joinpath("study.toml").read_text(encoding="utf-8")
