"""What a run and a check answer: plain values that do not change."""

from __future__ import annotations

import html
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from sidon._columns import Columns

__all__ = ["REFUSED", "Refusal", "Report", "Result", "Snapshot", "Violation"]

REFUSED = -1
"""Stands for "no carrier" in a column of frequencies."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Result:
    """What `solve` answers. Immutable; pickles.

    Attributes
    ----------
    frequencies : numpy.ndarray
        int64, hertz for each link; -1 where it has no carrier.
    link_ids : tuple of str
        The names of the links, in the same order.
    status : str
        ``"optimal"`` (it meets the bound), ``"feasible"`` (every hard rule holds) or
        ``"infeasible"``.
    stop_reason : str
        ``"proven"``, ``"finished"`` (the method has nothing left to do), ``"iteration-limit"``,
        ``"time-limit"`` or ``"interrupted"``.
    refused : int
        Links without a carrier.
    unserved : int
        Their summed priority.
    bound : int
        Proved least value of `unserved`.
    objective : int or None
        What was minimised: unserved priority (max-service), hard violations times 2**32 plus soft
        cost (min-interference), hertz from the lowest to the highest frequency (min-span), or
        distinct frequencies (min-order). None where no plan found counts.
    lower_bound : int
        Proved least value of `objective`.
    hard : int
        Hard violations, recounted by the independent check.
    soft : int
        Soft cost, recounted likewise.
    seed, restarts, iterations, evaluations : int
        The seed given; restarts begun, iterations and table moves over all restarts.
    elapsed_s : float
        Wall-clock seconds.
    trace : Columns
        The events of the run, a dict of numpy arrays: ``time_s``, ``iteration``, ``restart``,
        ``kind``, ``refused``, ``unserved``, ``hard``, ``soft``, ``bound``, ``objective`` (-1 where
        no plan counts), ``evaluations``.
    """

    frequencies: NDArray[np.int64]
    link_ids: tuple[str, ...]
    status: str
    stop_reason: str
    refused: int
    unserved: int
    bound: int
    objective: int | None
    lower_bound: int
    hard: int
    soft: int
    seed: int
    restarts: int
    iterations: int
    evaluations: int
    elapsed_s: float
    trace: Columns

    @property
    def assignment(self) -> dict[str, int | None]:
        """Hertz by link name; None where the link has no carrier."""
        hertz = [None if hz == REFUSED else hz for hz in self.frequencies.tolist()]
        return dict(zip(self.link_ids, hertz, strict=True))

    @property
    def served(self) -> int:
        """Links with a carrier."""
        return len(self.link_ids) - self.refused

    def _summary(self) -> dict[str, str]:
        return {
            "status": f"{self.status} ({self.stop_reason})",
            "served": f"{self.served} of {len(self.link_ids)}",
            "unserved": f"{self.unserved}, bound {self.bound}",
            "violations": f"{self.hard} hard, soft cost {self.soft}",
            "run": f"seed {self.seed}, {self.restarts} restarts, {self.iterations} iterations, "
            f"{self.elapsed_s:.2f} s",
        }

    def __repr__(self) -> str:
        lines = "".join(f"\n  {name}: {text}" for name, text in self._summary().items())
        return f"Result{lines}"

    def _repr_html_(self) -> str:
        rows = "".join(
            f"<tr><th>{name}</th><td>{html.escape(text)}</td></tr>"
            for name, text in self._summary().items()
        )
        return f"<table><caption>Result</caption>{rows}</table>"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Snapshot:
    """Where every link of a state stood at one moment. Immutable; pickles; compares by value.

    `sidon.check` takes it as it is, and `State.restore` goes back to it.

    Attributes
    ----------
    frequencies : numpy.ndarray
        int64, hertz for each link, read-only; -1 for a link that was off.
    link_ids : tuple of str
        The names of the links, in the same order.
    hard, soft : int
        Hard rules broken and soft cost, as the search counts them.
    unserved : int
        Summed priority of the links that were off.
    """

    frequencies: NDArray[np.int64]
    link_ids: tuple[str, ...]
    hard: int
    soft: int
    unserved: int

    def __post_init__(self) -> None:
        column = self.frequencies.copy()
        column.flags.writeable = False
        object.__setattr__(self, "frequencies", column)

    @property
    def assignment(self) -> dict[str, int | None]:
        """Hertz by link name; None where the link was off."""
        hertz = [None if hz == REFUSED else hz for hz in self.frequencies.tolist()]
        return dict(zip(self.link_ids, hertz, strict=True))

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Snapshot):
            return NotImplemented
        mine, theirs = self.frequencies.tobytes(), other.frequencies.tobytes()
        return self.link_ids == other.link_ids and mine == theirs

    def __hash__(self) -> int:
        return hash((self.link_ids, self.frequencies.tobytes()))

    def __reduce__(self) -> tuple[Any, ...]:
        return (_snapshot, (self.frequencies, self.link_ids, self.hard, self.soft, self.unserved))


def _snapshot(
    frequencies: NDArray[np.int64], link_ids: tuple[str, ...], hard: int, soft: int, unserved: int
) -> Snapshot:
    """Unpickle; the constructor makes the column read-only again."""
    return Snapshot(
        frequencies=frequencies, link_ids=link_ids, hard=hard, soft=soft, unserved=unserved
    )


@dataclass(frozen=True, slots=True)
class Violation:
    """One broken rule.

    Attributes
    ----------
    kind : str
        ``"off-domain"``, ``"lock-moved"``, ``"separation"``, ``"hit"`` or ``"pair"``.
    hard : bool
        Whether the rule must hold.
    cost : int
        What a broken soft rule counts; 0 for a hard one.
    links : tuple of int
        Indices of the links that take part; for a hit the sources, then the victim.
    text : str
        The violation in words.
    """

    kind: str
    hard: bool
    cost: int
    links: tuple[int, ...]
    text: str

    def __str__(self) -> str:
        return self.text


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """Why a link has no carrier: its candidates, each counted by the first rule that blocks it.

    Attributes
    ----------
    candidates : int
        Candidates in all.
    by_separation : int
        Too close to another carrier, or against an explicit pair rule.
    as_victim : int
        Otherwise hit by a product of carriers on the air.
    as_source : int
        Otherwise the source of a product that hits a carrier on the air.
    clean : int
        Not blocked by any hard rule.
    """

    candidates: int
    by_separation: int
    as_victim: int
    as_source: int
    clean: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """What the independent check counted.

    Attributes
    ----------
    hard, soft : int
        Hard violations, and the summed cost of broken soft rules and dear frequencies.
    refused, unserved : int
        Links without a carrier, and their summed priority.
    truncated : bool
        Whether there are more violations than are listed.
    violations : tuple of Violation
        At most ten thousand; every one is counted.
    """

    hard: int
    soft: int
    refused: int
    unserved: int
    truncated: bool
    violations: tuple[Violation, ...]

    def _repr_html_(self) -> str:
        rows = "".join(f"<li>{html.escape(v.text)}</li>" for v in self.violations[:50])
        head = f"{self.hard} hard violations, soft cost {self.soft}, {self.refused} refused"
        return f"<p>{head}</p><ul>{rows}</ul>"
