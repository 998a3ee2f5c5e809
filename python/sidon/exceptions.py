"""What sidon raises: one root, and beneath it one class per kind of refusal."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

    from sidon.result import Report, Violation

__all__ = [
    "CheckError",
    "Fault",
    "InvalidProblemError",
    "MethodError",
    "MoveError",
    "PlanError",
    "SidonError",
    "StudyError",
    "TooLargeError",
    "UnreadableError",
]

FURTHER = "\nfurther faults may show once these are mended"
"""Ends a report when some rules could not be judged yet."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault found in the input.

    Parameters
    ----------
    place : str
        Where: a path such as ``links[3].domain``.
    what : str
        What is wrong, with the offending value.
    remedy : str
        What to do about it.
    """

    place: str
    what: str
    remedy: str

    def __str__(self) -> str:
        return f"{self.place}: {self.what}; {self.remedy}"


class SidonError(Exception):
    """The root of everything sidon raises on purpose."""


class InvalidProblemError(SidonError, ValueError):
    """The input breaks its own rules; every fault found is listed.

    Parameters
    ----------
    faults : iterable of Fault
        All faults, in the order they were found.

    Attributes
    ----------
    faults : tuple of Fault
        The same.

    Examples
    --------
    >>> import sidon
    >>> try:
    ...     sidon.hits([518.125, 519.0], guards={"2A-B": 50_000})
    ... except sidon.InvalidProblemError as error:
    ...     print(error.faults[0].place)
    frequencies_hz[0]
    """

    faults: tuple[Fault, ...]

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__(self.faults)

    def __str__(self) -> str:
        if len(self.faults) == 1:
            return str(self.faults[0])
        lines = "".join(f"\n  {fault}" for fault in self.faults)
        return f"{len(self.faults)} faults in the input:{lines}"


class StudyError(InvalidProblemError):
    """A study breaks its own rules; every fault found is listed.

    Parameters
    ----------
    faults : iterable of Fault
        All faults, in the order they were found.
    further : bool, default False
        Whether some rules could not be judged before these faults are mended.

    Attributes
    ----------
    faults : tuple of Fault
        The same.
    further : bool
        The same.
    """

    further: bool

    def __init__(self, faults: Iterable[Fault], *, further: bool = False) -> None:
        super().__init__(faults)
        self.further = further

    def __str__(self) -> str:
        return f"{super().__str__()}{FURTHER}" if self.further else super().__str__()


class _RefusalError(SidonError, ValueError):
    """A refusal that says what, why and the remedy."""

    def __init__(self, what: str, why: str, remedy: str) -> None:
        self.what = what
        self.why = why
        self.remedy = remedy
        super().__init__(what, why, remedy)


class UnreadableError(_RefusalError):
    """A text or file could not be read as what it should be.

    Parameters
    ----------
    what : str
        What was being read, with the offending text.
    why : str
        Why it failed.
    remedy : str
        What to write instead.
    """

    def __str__(self) -> str:
        return f"cannot read {self.what}: {self.why}; {self.remedy}"


class TooLargeError(_RefusalError):
    """The input is sound but beyond what the engine can hold.

    Parameters
    ----------
    what : str
        What is too large.
    why : str
        The limit it breaks.
    remedy : str
        What to reduce.
    """

    def __str__(self) -> str:
        return f"{self.what} is too large: {self.why}; {self.remedy}"


class MoveError(_RefusalError):
    """A state does not allow this move; it is as it was before.

    Parameters
    ----------
    what : str
        The move.
    why : str
        What stands against it.
    remedy : str
        What to do first.
    """

    def __str__(self) -> str:
        return f"{self.what}: {self.why}; {self.remedy}"


class MethodError(_RefusalError):
    """A method that a package registers cannot be used.

    Parameters
    ----------
    what : str
        The method and the package.
    why : str
        What is wrong with it.
    remedy : str
        What to do about it.
    """

    def __str__(self) -> str:
        return f"{self.what} cannot be used: {self.why}; {self.remedy}"


class PlanError(SidonError, ValueError):
    """A plan, or a plan file, cannot be used as it stands."""


class CheckError(SidonError):
    """The independent check found hard violations.

    Parameters
    ----------
    report : Report
        The full recount.

    Attributes
    ----------
    report : Report
        The same.
    """

    report: Report

    def __init__(self, report: Report) -> None:
        self.report = report
        super().__init__(report)

    @property
    def violations(self) -> tuple[Violation, ...]:
        """Every violation found, hard ones first."""
        return self.report.violations

    def __str__(self) -> str:
        shown = [v.text for v in self.violations if v.hard][:10]
        more = self.report.hard - len(shown)
        tail = f"\n  and {more} more" if more > 0 else ""
        lines = "".join(f"\n  {text}" for text in shown)
        noun = "violation" if self.report.hard == 1 else "violations"
        return f"{self.report.hard} hard {noun}:{lines}{tail}"
