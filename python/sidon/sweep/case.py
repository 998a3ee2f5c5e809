"""The cases of a sweep: every combination of studies, variations and seeds."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING, TypeAlias

from sidon.exceptions import Fault, InvalidProblemError, StudyError
from sidon.study import Study
from sidon.sweep.changes import Changes, changed

if TYPE_CHECKING:
    from sidon.plan import Plan

__all__ = ["Case", "Variations", "cases"]

Variations: TypeAlias = Mapping[str, Mapping[str, Changes]]
"""For each axis its settings by name, each as changes of a study."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One plan to be made. Immutable; pickles, so that any process can take it.

    Parameters
    ----------
    labels : tuple of (str, str)
        Its place on each axis of the sweep: axis and setting.
    study : Study
        What is asked.
    seed : int
        Seed of every random choice.
    iterations : int, optional
        Limit of iterations.
    seconds : float, optional
        Time limit.
    threads : int, optional
        Threads of its search: one unless told otherwise, as a sweep has cases enough for all
        cores; None means one per core.
    method : str
        How to search, by name.
    start : Plan, optional
        A plan to begin with.
    """

    labels: tuple[tuple[str, str], ...]
    study: Study
    seed: int = 0
    iterations: int | None = None
    seconds: float | None = None
    threads: int | None = 1
    method: str = "local-search"
    start: Plan | None = None

    @property
    def name(self) -> str:
        """Its settings in one line."""
        return ", ".join([*(setting for _, setting in self.labels), f"seed {self.seed}"])

    def __repr__(self) -> str:
        return f"Case({self.name!r})"


def cases(
    studies: Study | Mapping[str, Study] | Iterable[Study],
    *,
    vary: Variations | None = None,
    seeds: Iterable[int] = (0,),
    iterations: int | None = None,
    seconds: float | None = None,
    threads: int | None = 1,
    method: str = "local-search",
) -> list[Case]:
    """List every combination of studies, variations and seeds.

    Parameters
    ----------
    studies : Study, mapping of str to Study, or iterable of Study
        One study, or several (places, say), by the names given or their own.
    vary : mapping of str to mapping, optional
        Axes: for each its settings by name, each a mapping of changes as `changed` takes them; an
        empty one leaves the study as it is.
    seeds : iterable of int, optional
        Seeds.
    iterations, seconds, threads, method
        As for `Study.plan`, for each case.

    Returns
    -------
    list of Case
        Studies outermost, seeds innermost.

    Raises
    ------
    StudyError
        When a variation does not fit a study; the faults of all of them are listed.
    InvalidProblemError
        When there is nothing to combine.

    Examples
    --------
    >>> from sidon.demo import study_text
    >>> study = Study.from_toml_text(study_text())
    >>> what_if = {"as it is": {}, "29 comes on air": {"availability.occupied+": [29]}}
    >>> [case.name for case in cases(study, vary={"what if": what_if}, seeds=[1, 2])]
    ['as it is, seed 1', 'as it is, seed 2', '29 comes on air, seed 1', '29 comes on air, seed 2']
    """
    several = not isinstance(studies, Study)
    by_name = _named(studies)
    axes = {axis: list(settings.items()) for axis, settings in (vary or {}).items()}
    numbers = list(seeds)
    _need_something(by_name, axes, numbers)
    found: list[Case] = []
    faults: list[Fault] = []
    for study_name, study in by_name.items():
        for settings in product(*axes.values()):
            labels = [("study", study_name)] if several else []
            labels += zip(axes, (setting for setting, _ in settings), strict=True)
            changes = {path: value for _, setting in settings for path, value in setting.items()}
            try:
                varied = changed(study, changes) if changes else study
            except StudyError as error:
                where = ", ".join(setting for _, setting in labels)
                faults += [Fault(f"{where}: {f.place}", f.what, f.remedy) for f in error.faults]
                continue
            found += [
                Case(
                    labels=tuple(labels),
                    study=varied,
                    seed=seed,
                    iterations=iterations,
                    seconds=seconds,
                    threads=threads,
                    method=method,
                )
                for seed in numbers
            ]
    if faults:
        raise StudyError(faults)
    return found


def _named(studies: Study | Mapping[str, Study] | Iterable[Study]) -> dict[str, Study]:
    if isinstance(studies, Mapping):
        return dict(studies)
    by_name: dict[str, Study] = {}
    for study in [studies] if isinstance(studies, Study) else studies:
        if study.name in by_name:
            what = f"two studies are called {study.name!r}"
            raise InvalidProblemError([Fault("studies", what, "give a mapping with other names")])
        by_name[study.name] = study
    return by_name


def _need_something(
    studies: Mapping[str, Study], axes: dict[str, list[tuple[str, Changes]]], seeds: list[int]
) -> None:
    faults = []
    if not studies:
        faults.append(Fault("studies", "there is no study", "give one, or several by name"))
    for axis, settings in axes.items():
        if not settings:
            what = f"the axis {axis!r} has no setting"
            faults.append(Fault(f"vary[{axis!r}]", what, "give it one, or leave the axis out"))
    if not seeds:
        faults.append(Fault("seeds", "there is no seed", "give one, such as [0]"))
    if faults:
        raise InvalidProblemError(faults)
