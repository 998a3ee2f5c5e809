"""Intermodulation-compatible frequency plans for audio links.

Frequencies and distances are integer hertz; ``350 * kHz`` and ``"350 kHz"`` are the same.

Examples
--------
>>> import sidon
>>> from sidon import kHz
>>> problem = sidon.Problem.simple(
...     range(518_000_000, 526_000_000, 25_000),
...     count=8,
...     separation=350 * kHz,
...     guards={"2A-B": 50 * kHz, "A+B-C": 50 * kHz},
... )
>>> result = sidon.solve(problem, seed=1, iterations=20_000)
>>> sidon.check(problem, result).hard
0
"""

from sidon import _start  # noqa: F401 - before what takes long to load
from sidon._registry import methods
from sidon.capacity import Capacity, in_ear_transmitters
from sidon.equipment import Catalogue, classes
from sidon.event.explain import explain
from sidon.exceptions import (
    CheckError,
    Fault,
    InvalidProblemError,
    MethodError,
    MoveError,
    PlanError,
    SidonError,
    StudyError,
    TooLargeError,
    UnreadableError,
)
from sidon.heuristics import Heuristic, Run, State
from sidon.hits import hit_counts, hits
from sidon.largest import SetResult, largest_set
from sidon.plan import Plan
from sidon.problem import Problem
from sidon.result import Refusal, Report, Result, Snapshot, Violation
from sidon.solve import Event, check, solve, why_refused
from sidon.spectrum import (
    PlaceReport,
    Region,
    Station,
    place_report,
    read_stations,
    region,
)
from sidon.spectrum.scan import MergedScan, Scan, bandwidth_correction_db
from sidon.study import Study
from sidon.units import GHz, Hz, MHz, format_frequency, kHz, parse_frequency
from sidon.versions import versions

__all__ = [
    "Capacity",
    "Catalogue",
    "CheckError",
    "Event",
    "Fault",
    "GHz",
    "Heuristic",
    "Hz",
    "InvalidProblemError",
    "MHz",
    "MergedScan",
    "MethodError",
    "MoveError",
    "PlaceReport",
    "Plan",
    "PlanError",
    "Problem",
    "Refusal",
    "Region",
    "Report",
    "Result",
    "Run",
    "Scan",
    "SetResult",
    "SidonError",
    "Snapshot",
    "State",
    "Station",
    "Study",
    "StudyError",
    "TooLargeError",
    "UnreadableError",
    "Violation",
    "bandwidth_correction_db",
    "check",
    "classes",
    "explain",
    "format_frequency",
    "hit_counts",
    "hits",
    "in_ear_transmitters",
    "kHz",
    "largest_set",
    "methods",
    "parse_frequency",
    "place_report",
    "read_stations",
    "region",
    "solve",
    "versions",
    "why_refused",
]
