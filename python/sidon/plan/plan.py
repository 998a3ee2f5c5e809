"""The plan: every assignment of a study, what was refused and why; read, written and checked."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sidon._files import write_text
from sidon._frames import Framed
from sidon.event.living import Living
from sidon.exceptions import PlanError
from sidon.plan import tables
from sidon.plan.document import PlanDocument
from sidon.plan.products import plan_hits
from sidon.plan.recount import carriers, problem_fields
from sidon.plan.sound import document_faults, listed, read_document
from sidon.plan.summary import refusal_lines, summary
from sidon.plan.zones import coupling_lines

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from sidon._arrays import Distance
    from sidon._columns import Columns
    from sidon.result import Report

__all__ = ["Assignment", "Plan", "Refusal"]


@dataclass(frozen=True, slots=True)
class Assignment:
    """A link on a frequency.

    Parameters
    ----------
    link, zone, profile : str
        Its names.
    frequency_hz : int
        Its carrier in hertz.
    spare : bool
        Whether it is kept in reserve.
    locked : bool
        Whether the study fixed its frequency.
    windows : tuple of str
        When it is on the air; empty means always.
    """

    link: str
    zone: str
    profile: str
    frequency_hz: int
    spare: bool
    locked: bool
    windows: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Refusal:
    """A link without a frequency.

    Parameters
    ----------
    link : str
        Its name.
    reason : str
        Why no frequency is left for it.
    zone, profile : str
        Its zone and profile.
    spare : bool
        Whether it would have been kept in reserve.
    """

    link: str
    reason: str
    zone: str
    profile: str
    spare: bool


class Plan(Framed, Living):
    """All assignments of a study, with what was refused and why.

    Parameters
    ----------
    document : PlanDocument
        The plan as plain data; `Study.plan` and `Plan.from_json` make it.

    Raises
    ------
    PlanError
        When parts of the document contradict each other; every fault is listed.

    Notes
    -----
    A plan is a proposal. Confirm every frequency with a scan on site; licences and local rules
    decide what may be used.

    Examples
    --------
    >>> from sidon import Study
    >>> from sidon.demo import study_text
    >>> plan = Study.from_toml_text(study_text()).plan(seed=1, iterations=50_000)
    >>> plan
    Plan('Three-stage weekend (invented)': 81 served, 0 refused)
    >>> plan.check().hard
    0
    """

    __slots__ = ("_document",)

    def __init__(self, document: PlanDocument) -> None:
        faults = document_faults(document)
        if faults:
            raise PlanError(listed("the plan contradicts itself", faults))
        self._document = document

    @classmethod
    def from_dict(cls, mapping: object) -> Plan:
        """Read a plan from plain data.

        Parameters
        ----------
        mapping : mapping
            What `to_dict` writes.

        Returns
        -------
        Plan
            The plan.

        Raises
        ------
        PlanError
            When it is not a plan; every fault is listed with its place.
        """
        return cls(read_document(mapping))

    @classmethod
    def from_json(cls, path: str | Path) -> Plan:
        """Read plan.json.

        Parameters
        ----------
        path : str or Path
            The file.

        Returns
        -------
        Plan
            The plan.

        Raises
        ------
        PlanError
            When it is not a plan; every fault is listed with its place.
        OSError
            When the file cannot be read.
        """
        raw = Path(path).read_bytes()
        try:
            mapping = json.loads(raw)
        except json.JSONDecodeError as error:
            remedy = "if the file ends too early, it was half written: make the plan again"
            where = f"line {error.lineno}, column {error.colno}"
            what = f"{path}, {where}: it is not JSON: {error.msg}; {remedy}"
            raise PlanError(what) from None
        except (UnicodeDecodeError, RecursionError, ValueError) as error:
            what = f"{path}: it is not JSON: {error}; make the plan again"
            raise PlanError(what) from None
        try:
            return cls.from_dict(mapping)
        except PlanError as error:
            what = f"{path}: {error}"
            raise PlanError(what) from None

    @property
    def document(self) -> PlanDocument:
        """The plan as plain data; see `sidon.plan.document` for its format."""
        return self._document

    @property
    def assignments(self) -> list[Assignment]:
        """Every link on a frequency, in the order of the study."""
        return [
            Assignment(
                link=row.link,
                zone=row.zone,
                profile=row.profile,
                frequency_hz=row.frequency_hz,
                spare=row.spare,
                locked=row.locked,
                windows=tuple(row.windows),
            )
            for row in self._document.assignments
        ]

    @property
    def refused(self) -> list[Refusal]:
        """Every link without a frequency, and why."""
        return [
            Refusal(
                link=row.link,
                reason=row.reason,
                zone=row.zone,
                profile=row.profile,
                spare=row.spare,
            )
            for row in self._document.refused
        ]

    @property
    def complete(self) -> bool:
        """Whether every required link has a carrier; spares may be missing."""
        return not self.missing

    @property
    def missing(self) -> list[str]:
        """The required links without a carrier: refused, or lost from the document."""
        served = {row.link for row in self._document.assignments}
        return [link for link in self._document.asked.required if link not in served]

    @property
    def stop_reason(self) -> str | None:
        """Why the search ended, such as "proven" or "interrupted"; None when not recorded."""
        return self._document.search.stop_reason if self._document.search else None

    def check(self) -> Report:
        """Recount every rule from the plan document alone, independently of the search.

        Returns
        -------
        Report
            The recount; it has no hard violation.

        Raises
        ------
        CheckError
            When a rule is broken; ``violations`` lists each.
        PlanError
            When the document describes no sound problem; every fault is listed.

        Notes
        -----
        O(n^3) in links that share the air for third-order products; no approximation.
        """
        import sidon

        try:
            problem = sidon.Problem.from_dict(problem_fields(self._document))
        except sidon.InvalidProblemError as error:
            raise PlanError(listed("the plan describes no sound problem", error.faults)) from None
        except sidon.UnreadableError as error:
            raise PlanError(str(error)) from None
        frequencies = [carrier.frequency_hz for carrier in carriers(self._document)]
        return sidon.check(problem, frequencies)

    def hits(self, *, margin_hz: Distance = 0) -> dict[str, NDArray[Any]]:
        """List the products nearer to a carrier than its guard.

        Parameters
        ----------
        margin_hz : int or str, default 0
            Widen every guard by this many hertz, or by a text such as ``"25 kHz"``, to see what
            misses narrowly.

        Returns
        -------
        dict of str to numpy.ndarray
            Columns ``form``, ``sources``, ``victim`` (link names), ``product_hz``, ``offset_hz``
            (product minus victim) and ``guard_hz``. Without margin they are empty in a plan that
            passed its check.

        Raises
        ------
        InvalidProblemError
            When the margin is no distance, or negative.
        """
        return plan_hits(self._document, margin_hz=margin_hz)

    def columns(self) -> dict[str, NDArray[Any]]:
        """Return the assignments as columns.

        Returns
        -------
        dict of str to numpy.ndarray
            ``link``, ``zone``, ``profile``, ``frequency_hz`` (int64), ``spare``, ``locked`` (bool)
            and ``windows`` (names joined by "; ").
        """
        return tables.columns(self._document)

    def requests(self) -> Columns:
        """Say what became of every link, where a party asked for one or one wanted a frequency.

        Returns
        -------
        Columns
            ``party`` ("" for none), ``link``, ``zone``, ``profile``, ``windows``, ``spare``,
            ``outcome`` ("granted": it has the frequency it wanted; "moved": it has another;
            "served": it wanted none in particular; "refused"), ``wanted_hz`` and ``frequency_hz``
            (-1 for none), and ``reason``: what stands in the way at the wanted frequency and why
            it stands no nearer, or why it is refused.
            ``pandas.DataFrame(plan.requests())`` makes a data frame.
        """
        # Events are above plans in the house; only this call needs them.
        from sidon.event.requests.outcome import outcome_columns

        return outcome_columns(self._document)

    def to_dict(self) -> dict[str, Any]:
        """Return the plan as plain data, ready for JSON.

        Returns
        -------
        dict
            The content of plan.json.
        """
        return self._document.model_dump(mode="json")

    def to_json(self, path: str | Path) -> None:
        """Write plan.json, whole or not at all.

        Parameters
        ----------
        path : str or Path
            Where to; an existing file is replaced.

        Raises
        ------
        PlanError
            When something that is no regular file stands there; it is left alone.
        OSError
            When it cannot be written; what stood there before still does.
        """
        write_text(path, tables.json_text(self.to_dict()))

    def to_csv(self, path: str | Path) -> None:
        """Write all links as CSV, by zone and frequency, whole or not at all.

        Parameters
        ----------
        path : str or Path
            Where to; an existing file is replaced.

        Raises
        ------
        PlanError
            When something that is no regular file stands there; it is left alone.
        OSError
            When it cannot be written; what stood there before still does.
        """
        write_text(path, tables.csv_text(self._document))

    def picture(self, path: str | Path, *, kind: str = "spectrum") -> None:
        """Draw the plan.

        Parameters
        ----------
        path : str or Path
            Where to; the ending decides the format (png, pdf, svg).
        kind : {"spectrum", "zones", "timeline", "reuse"}, default "spectrum"
            Occupied channels, exclusions, carriers by zone and products; zones against frequency;
            links on the air over time; where spectrum is used again.

        Raises
        ------
        ValueError
            When the ending names no format, or there is no such kind.
        PlanError
            When something that is no regular file stands there; it is left alone.
        OSError
            When it cannot be written; what stood there before still does.
        """
        # The picture is above the plan in the house; only this call needs it and matplotlib.
        from sidon.view import PICTURES
        from sidon.view.files import save_figure

        if kind not in PICTURES:
            what = f"there is no picture of kind {kind!r}; use {', '.join(PICTURES)}"
            raise ValueError(what)
        save_figure(PICTURES[kind](self), path)

    def summary(self, *, all_refusals: bool = False) -> str:
        """Summarise the plan in plain text.

        Parameters
        ----------
        all_refusals : bool, default False
            List every refused link, however many lines that takes; forty lines at most without.

        Returns
        -------
        str
            Served and refused by zone and profile, reasons, and cautions.
        """
        from sidon.event.requests.outcome import outcome_lines

        zones, requests = coupling_lines(self._document), outcome_lines(self._document)
        further = [*zones, *([""] if zones and requests else []), *requests]
        return summary(self._document, all_refusals=all_refusals, further=further)

    def refusal_lines(self, *, all_refusals: bool = False) -> list[str]:
        """List refused links by their reason, as lines of text.

        Parameters
        ----------
        all_refusals : bool, default False
            As for `summary`.

        Returns
        -------
        list of str
            Empty when nothing is refused.
        """
        return refusal_lines(self._document, all_refusals=all_refusals)

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Plan):
            return NotImplemented
        return self._document == other._document

    # Equal plans are equal documents, which hold lists.
    __hash__ = None  # type: ignore[assignment]

    def __repr__(self) -> str:
        served, refused = len(self._document.assignments), len(self._document.refused)
        return f"Plan({self._document.study!r}: {served} served, {refused} refused)"

    def _repr_html_(self) -> str:
        return tables.html_text(self._document)
