"""The study: read whole, checked whole, planned by the engine."""

from __future__ import annotations

import html
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sidon.event.requests.expand import expand
from sidon.exceptions import Fault, InvalidProblemError, StudyError
from sidon.study.attach import attach
from sidon.study.clashes import lock_clashes
from sidon.study.compile import Compiled, compile_study
from sidon.study.draft import read
from sidon.study.place import at_place, place_faults
from sidon.study.placed import in_study, lock_faults
from sidon.study.rules import cross_faults
from sidon.study.scans import with_scans
from sidon.study.schema import StudyModel
from sidon.study.source import read_file, read_json, read_toml

if TYPE_CHECKING:
    import sidon
    from sidon.capacity import Capacity
    from sidon.capacity.budget import Moment
    from sidon.heuristics import AnyMethod
    from sidon.plan import Plan
    from sidon.spectrum import PlaceReport

__all__ = ["Study"]


class Study:
    """What is asked: links of several profiles in several zones, over what is free at a place.

    A study is made from a file, text or plain data, and is sound once it exists: everything wrong
    with it is found when it is read, and reported in one `StudyError`.

    Parameters
    ----------
    mapping : mapping
        A study as written; see the README for the keys. Numbers are MHz.
    folder : str or Path, optional
        What the names of files in it are relative to; the working directory when not given. Files
        are read once: the study holds what they said.

    Raises
    ------
    StudyError
        When it holds faults; ``faults`` lists every one with place, what and remedy.

    Examples
    --------
    >>> study = Study.from_toml_text('''
    ... format = "sidon-study/1"
    ... name = "Two microphones, invented"
    ... place = { name = "Hall" }
    ... availability = { ranges = [[470, 476]] }
    ... zones = ["hall"]
    ... [[profiles]]
    ... name = "handheld"
    ... ranges = [[470, 476]]
    ... raster = "25 kHz"
    ... bandwidth = "200 kHz"
    ... separation = "350 kHz"
    ... guards = { "2A-B" = "100 kHz" }
    ... [[demand]]
    ... id = "vox"
    ... count = 2
    ... profile = "handheld"
    ... zone = "hall"
    ... ''')
    >>> study
    Study('Two microphones, invented': 2 links + 0 spares, 1 profile, 1 zone)
    """

    __slots__ = ("_compiled", "_model", "_place", "_written")

    def __init__(self, mapping: Mapping[str, Any], *, folder: str | Path | None = None) -> None:
        # Equipment reads its figures as a study does.
        from sidon.equipment.expand import with_classes

        attached, unread = attach(mapping, folder)
        written = with_classes(attached)
        whole, places, unasked = expand(written.mapping, mapping)
        model, draft, faults = read(whole)
        faults = [fault for fault in faults if fault.place not in written.excused]
        faults = [*unread, *written.faults, *unasked, *places.moved(faults)]
        faults += place_faults(whole, draft.availability)
        local, place = at_place(whole, draft.availability, sound=not faults)
        local = with_scans(local, place)
        draft.availability.whole = local
        faults += places.moved(cross_faults(draft))
        if model is None or faults:
            faults += places.moved(lock_clashes(draft))
            raise StudyError(faults, further=draft.unjudged or bool(unread) or bool(unasked))
        self._written = model
        self._place = place
        model = model.model_copy(update={"availability": local})
        self._model = model
        self._compiled = compile_study(model)
        faults = []
        try:
            if self._compiled.links:
                faults = lock_faults(self._compiled, self.problem())
        except StudyError as error:
            faults = list(error.faults)
        if faults:
            raise StudyError(places.moved(faults))

    @classmethod
    def from_file(cls, path: str | Path) -> Study:
        """Read a study file.

        Parameters
        ----------
        path : str or Path
            A file whose name ends in ``.toml`` or ``.json``.

        Returns
        -------
        Study
            A sound study.

        Raises
        ------
        StudyError
            When it holds faults; ``faults`` lists every one.
        OSError
            When the file cannot be read.
        """
        return cls(read_file(path), folder=Path(path).parent)

    @classmethod
    def from_dict(cls, mapping: Mapping[str, Any]) -> Study:
        """Read a study from plain data; numbers are MHz.

        Parameters
        ----------
        mapping : mapping
            The keys of a study file.

        Returns
        -------
        Study
            A sound study.

        Raises
        ------
        StudyError
            When it holds faults; ``faults`` lists every one.
        """
        return cls(mapping)

    @classmethod
    def from_toml_text(cls, text: str) -> Study:
        """Read a study from TOML text.

        Parameters
        ----------
        text : str
            TOML.

        Returns
        -------
        Study
            A sound study.

        Raises
        ------
        StudyError
            When it holds faults; ``faults`` lists every one.
        """
        return cls(read_toml(text))

    @classmethod
    def from_json_text(cls, text: str) -> Study:
        """Read a study from JSON text.

        Parameters
        ----------
        text : str
            JSON.

        Returns
        -------
        Study
            A sound study.

        Raises
        ------
        StudyError
            When it holds faults; ``faults`` lists every one.
        """
        return cls(read_json(text))

    @property
    def name(self) -> str:
        """The name of the study."""
        return self._model.name

    @property
    def model(self) -> StudyModel:
        """The study as read, all frequencies in hertz; what is available is that of the place."""
        return self._model

    @property
    def compiled(self) -> Compiled:
        """The study as compiled: its problem as plain data, and the way back to its names."""
        return self._compiled

    @property
    def link_ids(self) -> list[str]:
        """Names of all links that are asked for, spares included."""
        return [row.id for row in self._compiled.links if not row.incumbent]

    @property
    def asked(self) -> int:
        """Number of links that are asked for, spares included."""
        return len(self.link_ids)

    def place_report(self) -> PlaceReport:
        """Say what is free at the place, channel by channel, with the reasons.

        Returns
        -------
        PlaceReport
            Statuses, reasons, stations, dates and sources: estimates, not permissions.

        Raises
        ------
        StudyError
            When the study names no region.
        """
        if self._place is None:
            what = "the study names no region"
            remedy = "add availability.region, such as 'us', and stations"
            raise StudyError([Fault("availability.region", what, remedy)])
        return self._place

    def problem(self) -> sidon.Problem:
        """Compile the study to the engine's problem.

        Returns
        -------
        sidon.Problem
            Links in the order of `link_ids`, then the foreign carriers.

        Raises
        ------
        StudyError
            When the engine finds a fault; it is placed in the study. When the study only asks how
            many fit, and for no links.
        """
        import sidon

        if not self._compiled.links:
            what = "the study asks how many fit, and for no links that could be planned"
            raise StudyError([Fault("demand", what, "add demand, or ask for the capacity alone")])
        try:
            return sidon.Problem.from_dict(self._compiled.problem)
        except InvalidProblemError as error:
            raise StudyError([in_study(self._compiled, f) for f in error.faults]) from None

    def plan(
        self,
        *,
        seed: int = 0,
        seconds: float | None = None,
        iterations: int | None = None,
        threads: int | None = None,
        progress: Callable[[sidon.Event], object] | None = None,
        method: AnyMethod = "local-search",
        start: Plan | None = None,
    ) -> Plan:
        """Find a plan that serves the most links, and check it independently.

        Parameters
        ----------
        seed : int, default 0
            Seed of every random choice.
        seconds : float, optional
            Time limit. With neither limit the search ends when all links are served, or after
            five seconds.
        iterations : int, optional
            Limit of iterations in all; the same plan for the same seed on any number of threads.
        threads : int, optional
            Worker threads; one per core when not given.
        progress : callable, optional
            Called with an event now and then; returning True ends the search. Any other value,
            such as 1 or a text, is no wish to end it.
        method : str or callable, optional
            How to search, as for `sidon.solve`.
        start : Plan, optional
            Begin with the carriers of this plan, of this study or an earlier state of it. Links
            that it does not serve, or on a frequency that is no longer theirs, begin without one.
            The answer serves no less than what is sound of it.

        Returns
        -------
        Plan
            The best plan found; every plan has passed its check. After Ctrl-C it is the best so
            far, with ``stop_reason`` "interrupted".

        Raises
        ------
        InvalidProblemError
            When an argument is out of range.
        StudyError
            When the study only asks how many fit, and for no links.
        TooLargeError
            When the study is beyond what the engine can hold.
        """
        from sidon.study.planning import search

        return search(
            self,
            seed=seed,
            seconds=seconds,
            iterations=iterations,
            threads=threads,
            progress=progress,
            method=method,
            start=start,
        ).plan()

    def capacity(
        self,
        *,
        classes: str | Sequence[str] | None = None,
        what_if: bool = True,
        seed: int = 0,
        seconds: float | None = None,
        iterations: int | None = None,
        threads: int | None = None,
        progress: Callable[[Moment], object] | None = None,
    ) -> Capacity:
        """Find how many carriers of each kind fit, and how that compares with what is wanted.

        Parameters
        ----------
        classes : str or sequence of str, optional
            Classes of the catalogue to list beside the profiles of the study; ``"all"`` for every
            one, which is the default of a study without profiles.
        what_if : bool, default True
            Also find what would change the numbers, as the key ``capacity`` of the study says.
        seed : int, default 0
            Seed of every random choice.
        seconds : float, optional
            Time limit of the whole. With neither limit five seconds.
        iterations : int, optional
            Limit of iterations of the whole, shared out beforehand; the same answer for the same
            seed on any number of threads.
        threads : int, optional
            Worker threads; one per core when not given.
        progress : callable, optional
            Called with a moment (``time_s``, ``done``, ``total``, ``label``) now and then;
            returning True ends the work.

        Returns
        -------
        Capacity
            One row per profile and tuning range: estimates until a scan confirms them. After
            Ctrl-C it is the best so far, with ``stop_reason`` "interrupted".

        Raises
        ------
        InvalidProblemError
            When an argument is out of range, or there is no such class.
        TooLargeError
            When the study is beyond what the engine can hold.

        Notes
        -----
        A part of a compatible set is compatible, and a set that keeps strict rules keeps loose
        ones. So a wider range, or looser rules over one range, is never reported to fit fewer.

        Examples
        --------
        The first question of a client, before anything is chosen:

        >>> study = Study.from_toml_text('''
        ... format = "sidon-study/1"
        ... name = "Twelve microphones, invented"
        ... place = { name = "Hall" }
        ... availability = { ranges = [[470, 518]] }
        ... capacity = { ask = 12 }
        ... ''')
        >>> found = study.capacity(classes=["standard-digital"], iterations=200)
        >>> found.rows[0].verdict
        'comfortable'
        """
        from sidon.capacity.run import capacity

        return capacity(
            self,
            classes=classes,
            what_if=what_if,
            seed=seed,
            seconds=seconds,
            iterations=iterations,
            threads=threads,
            progress=progress,
        )

    def to_dict(self) -> dict[str, Any]:
        """Return the study as plain data, frequencies as exact text; `from_dict` reads it back.

        Returns
        -------
        dict
            Ready for JSON.
        """
        return self._written.model_dump(mode="json", exclude_none=True)

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Study):
            return NotImplemented
        return self._written == other._written

    # Equal studies are equal models, which hold lists.
    __hash__ = None  # type: ignore[assignment]

    def __reduce__(self) -> tuple[object, ...]:
        return (Study.from_dict, (self.to_dict(),))

    def _counts(self) -> dict[str, int]:
        demand = self._model.demand
        shared = sum(row.count for row in self._model.spares)
        return {
            "link": sum(row.size for row in demand),
            "spare": sum(row.spare_count for row in demand) + shared,
            "profile": len(self._model.profiles),
            "zone": len(self._model.zones),
        }

    def __repr__(self) -> str:
        text = {name: f"{n} {name}{'' if n == 1 else 's'}" for name, n in self._counts().items()}
        sizes = f"{text['link']} + {text['spare']}, {text['profile']}, {text['zone']}"
        return f"Study({self.name!r}: {sizes})"

    def _repr_html_(self) -> str:
        head = "".join(
            f"<th>{key}</th>" for key in ("links", "profile", "zone", "count", "spares", "windows")
        )
        rows = []
        for row in self._model.demand:
            cells = (
                row.id or ", ".join(row.ids),
                row.profile,
                row.zone,
                str(row.size),
                str(row.spare_count),
                ", ".join(row.windows) or "always",
            )
            rows.append("<tr>" + "".join(f"<td>{html.escape(c)}</td>" for c in cells) + "</tr>")
        for kept in self._model.spares:
            windows = ", ".join(kept.windows) or "always"
            cells = (kept.id, kept.profile, kept.zone, "0", str(kept.count), windows)
            rows.append("<tr>" + "".join(f"<td>{html.escape(c)}</td>" for c in cells) + "</tr>")
        caption = html.escape(f"{self.name} ({self._model.place.name})")
        return f"<table><caption>{caption}</caption><tr>{head}</tr>{''.join(rows)}</table>"
