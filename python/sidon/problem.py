"""The problem: what a researcher or an integrator hands to `sidon.solve`, from plain arrays."""

from __future__ import annotations

import html
import json
from typing import TYPE_CHECKING, Any

from sidon import _engine
from sidon._arrays import NO_VALUES, FaultList, frequency_column, integer_column
from sidon._column_faults import as_columns, column_faults, same_length
from sidon._costs import cost_tables
from sidon._parts import (
    counted,
    domain_fields,
    link_count,
    one_profile,
    pair_rules,
    profile_fields,
    read_problem,
)

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import numpy as np
    from numpy.typing import ArrayLike, NDArray

    from sidon._arrays import Distance, Frequencies, Guards

__all__ = ["Problem"]

_MOST_LINKS = 100_000
"""No event has as many; far more would fill the memory before anything could be refused."""


class Problem:
    """A frequency-assignment problem: links, domains, separations, guards and costs.

    Immutable and validated as a whole when it is made. Compares by value, pickles, and may be
    shared between threads. `Problem.simple` and `Problem.from_arrays` cover the common cases;
    the constructor takes everything the engine knows.

    Parameters
    ----------
    profiles : sequence of mapping
        Equipment classes: ``name``, ``separation_hz``, ``guards`` (each ``form``, ``guard_hz`` and
        ``weight``: ``"hard"`` or ``{"soft": cost}``), ``mixes``. A form is a text such as
        ``"2A-B"``, or its coefficients: ``(2, -1)``.
    zones : sequence of str
        Zone names.
    domains : sequence of array or mapping
        Candidate frequencies in hertz, or ``{"raster": {"ranges_hz": ..., "step_hz": ...,
        "origin_hz": ...}}``.
    links : sequence of mapping
        ``id``, ``profile``, ``zone`` and ``domain`` as indices; optionally ``windows``, ``costs``,
        ``priority``, ``locked_hz``.
    separations : sequence of mapping, optional
        Separations between two profiles: ``a``, ``b``, ``separation_hz``.
    couplings : sequence of mapping, optional
        Which zones share the air: ``a``, ``b``, ``degree`` (``"none"``, ``"separation"``,
        ``"full"``).
    costs : sequence of array, optional
        One cost per candidate, ascending, of the domain of the links that name the table.
    pairs : sequence of mapping, optional
        Explicit rules: ``a``, ``b``, ``relation`` (``{"at_least": hz}`` or ``{"exactly": hz}``),
        ``weight``.

    Raises
    ------
    UnreadableError
        A field is missing, unknown or of the wrong type.
    InvalidProblemError
        The problem breaks its own rules; every fault is listed.

    Examples
    --------
    >>> import sidon
    >>> from sidon import MHz, kHz
    >>> problem = sidon.Problem(
    ...     profiles=[{"name": "handheld", "separation_hz": 350 * kHz}],
    ...     zones=["stage"],
    ...     domains=[[518 * MHz, 519 * MHz, 520 * MHz]],
    ...     links=[{"id": f"mic {i}", "profile": 0, "zone": 0, "domain": 0} for i in range(3)],
    ... )
    >>> problem
    Problem(3 links, 1 profile, 1 zone, 1 domain)
    """

    __slots__ = ("_inner",)

    _inner: _engine.Problem

    def __init__(
        self,
        *,
        profiles: Sequence[Mapping[str, Any]],
        zones: Sequence[str],
        domains: Sequence[Frequencies | Mapping[str, Any]],
        links: Sequence[Mapping[str, Any]],
        separations: Sequence[Mapping[str, Any]] = (),
        couplings: Sequence[Mapping[str, Any]] = (),
        costs: Sequence[ArrayLike] = (),
        pairs: Sequence[Mapping[str, Any]] = (),
    ) -> None:
        faults = FaultList()
        fields: dict[str, Any] = {
            "profiles": [
                faults.take({}, profile_fields, p, f"profiles[{i}]") for i, p in enumerate(profiles)
            ],
            "zones": zones,
            "domains": [
                faults.take({}, domain_fields, d, f"domains[{i}]") for i, d in enumerate(domains)
            ],
            "links": links,
            "separations": separations,
            "couplings": couplings,
            "costs": [
                faults.take(NO_VALUES, integer_column, c, f"costs[{i}]")
                for i, c in enumerate(costs)
            ],
            "pairs": pairs,
        }
        faults.raise_if_any()
        self._inner = read_problem(fields)

    @classmethod
    def simple(
        cls,
        candidates_hz: Frequencies,
        *,
        count: int,
        separation: Distance = 0,
        guards: Guards | None = None,
    ) -> Problem:
        """Ask for `count` carriers from one list of candidates: one kind of link in one zone.

        Parameters
        ----------
        candidates_hz : list, array or Series
            Candidate frequencies in hertz.
        count : int
            How many links want a carrier.
        separation : int or str, optional
            Least distance between two carriers, in hertz or as a text such as ``"350 kHz"``.
        guards : mapping, optional
            Least distance of a product of each form from a carrier, in hertz. A form is a text
            such as ``"2A-B"`` or its coefficients: any whole numbers that sum to 1, up to ninth
            order, so ``(2, -1)`` is the same.

        Returns
        -------
        Problem
            With links ``"0"``, ``"1"``, ...

        Raises
        ------
        InvalidProblemError
            Some value is out of range; every fault is listed.

        Examples
        --------
        Four marks on a ruler of length 6 with distinct differences exist (the optimal Golomb
        ruler 0, 1, 4, 6): no ``2A-B`` or ``A+B-C`` product falls on a mark.

        >>> import sidon
        >>> problem = sidon.Problem.simple(
        ...     range(7), count=4, separation=1, guards={"2A-B": 1, "A+B-C": 1}
        ... )
        >>> len(problem)
        4
        """
        faults = FaultList()
        n = faults.take(1, link_count, count)
        domain = faults.take(NO_VALUES, frequency_column, candidates_hz, "candidates_hz")
        profile = one_profile(separation, guards, faults)
        faults.raise_if_any()
        return cls(
            profiles=[profile],
            zones=["zone"],
            domains=[domain],
            links=[{"id": str(i), "profile": 0, "zone": 0, "domain": 0} for i in range(n)],
        )

    @classmethod
    def from_arrays(
        cls,
        *,
        domains: Sequence[Frequencies],
        link_domain: ArrayLike,
        link_ids: Sequence[str] | None = None,
        link_priority: ArrayLike | None = None,
        link_locked_hz: Frequencies | None = None,
        separation: Distance = 0,
        guards: Guards | None = None,
        costs: Sequence[ArrayLike] | NDArray[np.integer[Any]] = (),
        link_costs: ArrayLike | None = None,
        pairs: Sequence[ArrayLike] | None = None,
        exact_pairs: Sequence[ArrayLike] | None = None,
    ) -> Problem:
        """Make a problem of one profile and one zone from columns, as benchmark files hold them.

        Parameters
        ----------
        domains : sequence of array
            Lists of candidate frequencies in hertz.
        link_domain : array of int
            For each link, the index of its domain.
        link_ids : sequence of str, optional
            Unique names; ``"0"``, ``"1"``, ... without.
        link_priority : array of int, optional
            What leaving each link without a carrier costs, at least 1.
        link_locked_hz : array, optional
            A frequency each link must keep; -1 where it is free.
        separation : int or str, optional
            Least distance between any two carriers, in hertz.
        guards : mapping, optional
            Least distance of a product of each form from a carrier, in hertz. A form is a text
            such as ``"2A-B"`` or its coefficients: any whole numbers that sum to 1, up to ninth
            order, so ``(2, -1)`` is the same.
        costs : sequence of array, or array of two dimensions, optional
            Cost tables: one entry per frequency of the domain they go with, in the order in which
            that domain gives them.
        link_costs : array of int, optional
            For each link, the index of its cost table; -1 for none. Without it a single table goes
            with every link, and one table per link with that link.
        pairs : tuple of array, optional
            Columns ``(a, b, distance_hz)`` or ``(a, b, distance_hz, weight)``: links `a` and `b`
            are at least this far apart. Weight 0 is a hard rule, anything above a soft cost. Rows
            of pairs become columns with ``tuple(zip(*rows))``; three or four entries are columns.
        exact_pairs : tuple of array, optional
            The same columns; the distance is exact.

        Returns
        -------
        Problem
            Validated.

        Raises
        ------
        InvalidProblemError
            Some value is out of range, or columns differ in length; every fault is listed.

        Examples
        --------
        A triangle and two colours: one link stays without.

        >>> import sidon
        >>> problem = sidon.Problem.from_arrays(
        ...     domains=[[1, 2]], link_domain=[0, 0, 0], pairs=([0, 0, 1], [1, 2, 2], [1, 1, 1])
        ... )
        >>> sidon.solve(problem, method="dsatur").refused
        1

        Costs of frequencies, and soft pair rules: two links would both like 470 MHz, and being
        closer than 1 MHz costs 5. Both move a little; keeping 470 MHz would have cost 5 or 9.

        >>> import numpy as np
        >>> from sidon import MHz
        >>> near = np.array([472, 470, 471]) * MHz
        >>> problem = sidon.Problem.from_arrays(
        ...     domains=[near],
        ...     link_domain=[0, 0],
        ...     costs=np.array([[9, 0, 2], [9, 0, 3]]),
        ...     pairs=([0], [1], [1 * MHz], [5]),
        ... )
        >>> best = sidon.solve(problem, objective="min-interference", seed=1, iterations=500)
        >>> (best.frequencies // MHz).tolist(), best.soft
        ([471, 470], 2)
        """
        faults = FaultList()

        def column(values: ArrayLike | Frequencies, place: str) -> list[int]:
            listed: list[int] = faults.take(NO_VALUES, integer_column, values, place).tolist()
            return listed

        def optional(values: ArrayLike | Frequencies, place: str) -> list[int | None]:
            return [None if value == -1 else value for value in column(values, place)]

        columns: dict[str, list[Any]] = {"domain": column(link_domain, "link_domain")}
        n = len(columns["domain"])
        columns["id"] = [str(i) for i in range(n)] if link_ids is None else list(link_ids)
        if link_priority is not None:
            columns["priority"] = column(link_priority, "link_priority")
        if link_locked_hz is not None:
            columns["locked_hz"] = optional(link_locked_hz, "link_locked_hz")
        lists = [
            faults.take(NO_VALUES, frequency_column, hz, f"domains[{i}]")
            for i, hz in enumerate(domains)
        ]
        tables, columns["costs"] = faults.take(
            ([], []), cost_tables, lists, columns["domain"], costs, link_costs
        )
        pairs = faults.take(None, as_columns, pairs, "pairs")
        exact_pairs = faults.take(None, as_columns, exact_pairs, "exact_pairs")
        rules = faults.take([], pair_rules, pairs, exact_pairs)
        profile = one_profile(separation, guards, faults)
        faults.extend(
            column_faults(
                domains=len(domains),
                costs=len(costs),
                link_domain=link_domain,
                link_priority=link_priority,
                link_costs=link_costs,
                pairs=pairs,
                exact_pairs=exact_pairs,
            )
        )
        faults.raise_if_any()
        places = {"id": "link_ids"}
        same_length({places.get(name, f"link_{name}"): c for name, c in columns.items()})
        links = [
            {"profile": 0, "zone": 0, **dict(zip(columns, row, strict=True))}
            for row in zip(*columns.values(), strict=True)
        ]
        fields = {
            "profiles": [profile],
            "zones": ["zone"],
            "domains": [{"frequencies": hz} for hz in lists],
            "links": links,
            "costs": tables,
        }
        return cls._wrap(read_problem(fields, rules))

    @classmethod
    def from_dict(cls, fields: Mapping[str, Any]) -> Problem:
        """Make the problem that `to_dict` described.

        Parameters
        ----------
        fields : mapping
            The fields of the constructor; arrays are welcome.

        Returns
        -------
        Problem
            Validated.

        Raises
        ------
        UnreadableError
            A field is missing, unknown or of the wrong type.
        InvalidProblemError
            The problem breaks its own rules; every fault is listed.
        """
        faults = FaultList()
        plain = dict(fields)
        if isinstance(plain.get("profiles"), list | tuple):
            plain["profiles"] = [
                faults.take({}, profile_fields, p, f"profiles[{i}]")
                for i, p in enumerate(plain["profiles"])
            ]
        faults.raise_if_any()
        return cls._wrap(read_problem(plain))

    @classmethod
    def from_json(cls, text: str) -> Problem:
        """Make the problem that `to_json` wrote.

        Parameters
        ----------
        text : str
            JSON.

        Returns
        -------
        Problem
            Validated.

        Raises
        ------
        UnreadableError
            The text is no JSON, or a field is missing, unknown or of the wrong type.
        InvalidProblemError
            The problem breaks its own rules; every fault is listed.
        """
        return cls._wrap(_engine.Problem.from_json(text))

    def to_dict(self) -> dict[str, Any]:
        """Return all fields as plain lists, dictionaries, numbers and texts.

        Returns
        -------
        dict
            What `from_dict` takes.
        """
        fields: dict[str, Any] = json.loads(self.to_json())
        return fields

    def to_json(self) -> str:
        """Write the problem as JSON text.

        Returns
        -------
        str
            What `from_json` takes.
        """
        return self._inner.to_json()

    @property
    def link_ids(self) -> tuple[str, ...]:
        """The names of the links, in order."""
        return tuple(self._inner.link_ids())

    def candidates_hz(self, link: int) -> NDArray[np.int64]:
        """Return the candidate frequencies of one link.

        Parameters
        ----------
        link : int
            Index of the link.

        Returns
        -------
        numpy.ndarray
            int64, ascending, in hertz.

        Raises
        ------
        IndexError
            There is no such link.
        """
        return self._inner.candidates_hz(link)

    @classmethod
    def _wrap(cls, inner: _engine.Problem) -> Problem:
        problem = cls.__new__(cls)
        problem._inner = inner
        return problem

    def __len__(self) -> int:
        return len(self._inner)

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Problem):
            return NotImplemented
        return self._inner == other._inner

    # Large to hash, and no use as a key.
    __hash__ = None  # type: ignore[assignment]

    def __reduce__(self) -> tuple[Any, ...]:
        return (Problem.from_json, (self.to_json(),))

    def __repr__(self) -> str:
        sizes = self._inner.sizes()
        return f"Problem({', '.join(counted(n, name) for name, n in sizes if n)})"

    def _repr_html_(self) -> str:
        rows = "".join(
            f"<tr><th>{html.escape(name)}s</th><td>{n}</td></tr>" for name, n in self._inner.sizes()
        )
        return f"<table><caption>Problem</caption>{rows}</table>"
