"""
The engine of sidon; use the functions of the package `sidon` instead.
"""

from _typeshed import SupportsGetItem
from numpy import float64, int64
from numpy.typing import NDArray
from typing import Any, Final, SupportsFloat, SupportsIndex, final
from typing_extensions import disjoint_base

__all__ = ["Event", "Outcome", "Problem", "Session", "SetOutcome", "State", "TraceColumns", "canonical_form", "check", "form_of_coefficients", "format_frequency", "hit_counts", "hits", "largest_set", "parse_frequency", "refusals", "solve", "versions"]

@final
class Event:
    """
    What happened at one moment of a run.
    """
    def __eq__(self, value: object, /) -> bool: ...
    def __ne__(self, value: object, /) -> bool: ...
    def __new__(cls, /, time_s: SupportsFloat | SupportsIndex, iteration: SupportsIndex, restart: SupportsIndex, kind: str, refused: SupportsIndex, unserved: SupportsIndex, hard: SupportsIndex, soft: SupportsIndex, bound: SupportsIndex, objective: SupportsIndex | None, evaluations: SupportsIndex) -> Event: ...
    def __reduce__(self, /) -> tuple[type, tuple[float, int, int, str, int, int, int, int, int, int | None, int]]: ...
    def __repr__(self, /) -> str: ...
    @property
    def bound(self, /) -> int:
        """
        Proved least value of `unserved`.
        """
    @property
    def evaluations(self, /) -> int:
        """
        Table moves so far in this restart.
        """
    @property
    def hard(self, /) -> int:
        """
        Hard violations.
        """
    @property
    def iteration(self, /) -> int:
        """
        Iterations of this restart so far.
        """
    @property
    def kind(self, /) -> str:
        """
        `restart`, `improvement`, `progress` or `stop`.
        """
    @property
    def objective(self, /) -> int | None:
        """
        Value of the objective; `None` where no plan counts.
        """
    @property
    def refused(self, /) -> int:
        """
        Links without a carrier.
        """
    @property
    def restart(self, /) -> int:
        """
        Restart index.
        """
    @property
    def soft(self, /) -> int:
        """
        Soft cost.
        """
    @property
    def time_s(self, /) -> float:
        """
        Seconds since the run began.
        """
    @property
    def unserved(self, /) -> int:
        """
        Their summed priority.
        """

@final
class Outcome:
    """
    The answer of a run; see `sidon.Result`.
    """
    @property
    def bound(self, /) -> int:
        """
        Proved least value of `unserved`.
        """
    @property
    def elapsed_s(self, /) -> float:
        """
        Wall-clock seconds.
        """
    @property
    def evaluations(self, /) -> int:
        """
        Table moves over all restarts.
        """
    @property
    def frequencies(self, /) -> NDArray[int64]:
        """
        Hertz for each link; -1 where it has no carrier.
        """
    @property
    def hard(self, /) -> int:
        """
        Hard violations.
        """
    @property
    def iterations(self, /) -> int:
        """
        Iterations over all restarts.
        """
    @property
    def lower_bound(self, /) -> int:
        """
        Proved least value of `objective`.
        """
    @property
    def objective(self, /) -> int | None:
        """
        What was minimised; `None` where no plan counts.
        """
    @property
    def refused(self, /) -> int:
        """
        Links without a carrier.
        """
    @property
    def restarts(self, /) -> int:
        """
        Restarts begun.
        """
    @property
    def seed(self, /) -> int:
        """
        Seed of the run.
        """
    @property
    def soft(self, /) -> int:
        """
        Soft cost.
        """
    @property
    def status(self, /) -> str:
        """
        `optimal`, `feasible` or `infeasible`.
        """
    @property
    def stop_reason(self, /) -> str:
        """
        `proven`, `finished`, `iteration-limit`, `time-limit` or `interrupted`.
        """
    @property
    def trace(self, /) -> TraceColumns:
        """
        The events of the run.
        """
    @property
    def unserved(self, /) -> int:
        """
        Their summed priority.
        """

@final
class Problem:
    """
    A validated frequency-assignment problem.
    """
    def __eq__(self, value: object, /) -> bool: ...
    def __len__(self, /) -> int: ...
    def __ne__(self, value: object, /) -> bool: ...
    def __reduce__(self, /) -> tuple[Any, tuple[str]]: ...
    def candidates_hz(self, /, link: SupportsIndex) -> NDArray[int64]:
        """
        The candidates of one link in hertz, ascending.
        """
    @staticmethod
    def from_columns(text: str, a: NDArray[int64], b: NDArray[int64], distance_hz: NDArray[int64], cost: NDArray[int64], exact: NDArray[int64]) -> Problem:
        """
        Read a problem whose pair rules stand in columns, behind those of the text; at most ten faults
        of the columns are listed.

        The columns: two links, their distance in hertz, the soft cost (0 for a hard rule), and
        whether the distance is exact (1) or the least (0).
        """
    @staticmethod
    def from_json(text: str) -> Problem:
        """
        Read and validate a problem; every fault is collected.
        """
    def link_ids(self, /) -> list[str]:
        """
        The names of the links, in order.
        """
    def sizes(self, /) -> list[tuple[str, int]]:
        """
        How many there are of each part, for display.
        """
    def to_json(self, /) -> str:
        """
        The problem as JSON; the inverse of `from_json`.
        """

@disjoint_base
class Session:
    """
    One run of a heuristic: how long it may go on, and the best plan it has offered.
    """
    def __new__(cls, /, problem: Problem, *, objective: str, seed: SupportsIndex, iterations: SupportsIndex | None, seconds: SupportsFloat | SupportsIndex | None, progress: Any | None, start: NDArray[int64] | None = None) -> Session: ...
    @property
    def bound(self, /) -> int:
        """
        Proved least value of the unserved priority.
        """
    @property
    def elapsed_s(self, /) -> float:
        """
        Seconds since the run began.
        """
    def finish(self, /, state: State, *, interrupted: bool) -> Outcome:
        """
        End the run: offer what stands on its state, and have the best plan recounted.
        """
    def incumbent(self, /) -> tuple[NDArray[int64], int, int, int] | None:
        """
        Return the best plan offered so far: hertz, -1 for a link that is off; hard rules broken, soft
        cost, unserved priority. None once the run has ended.
        """
    @property
    def iterations(self, /) -> int:
        """
        Iterations counted so far.
        """
    def offer(self, /, state: State) -> bool:
        """
        Offer what stands on a state as the best plan so far.

        Parameters
        ----------
        state : State
            A state of the problem that is being solved.

        Returns
        -------
        bool
            Whether it is better than all offered before. If so it is noted in the trace and the
            callback hears of it.

        Raises
        ------
        InvalidProblemError
            The state is of another problem.
        """
    def tick(self, /) -> bool:
        """
        Count one iteration.

        Looks at the budget, for signals and at the callback. Cheap enough for every step of a search.

        Returns
        -------
        bool
            Whether the run may go on. Once it may not it never may again: return from the heuristic.
        """

@final
class SetOutcome:
    """
    The answer; see `sidon.SetResult`.
    """
    @property
    def elapsed_s(self, /) -> float:
        """
        Wall-clock seconds.
        """
    @property
    def frequencies(self, /) -> NDArray[int64]:
        """
        The set in hertz, ascending.
        """
    @property
    def iterations(self, /) -> int:
        """
        Iterations over all restarts.
        """
    @property
    def proof(self, /) -> str:
        """
        `candidates`, `separation`, `difference-counting` or `exhaustion`.
        """
    @property
    def restarts(self, /) -> int:
        """
        Restarts begun.
        """
    @property
    def seed(self, /) -> int:
        """
        Seed of the run.
        """
    @property
    def status(self, /) -> str:
        """
        `optimal`, `feasible` or `infeasible`.
        """
    @property
    def stop_reason(self, /) -> str:
        """
        `proven`, `iteration-limit`, `time-limit` or `interrupted`.
        """
    @property
    def trace_iteration(self, /) -> NDArray[int64]:
        """
        Iterations of that restart.
        """
    @property
    def trace_restart(self, /) -> NDArray[int64]:
        """
        Restart that found it.
        """
    @property
    def trace_size(self, /) -> NDArray[int64]:
        """
        Carriers in the best set.
        """
    @property
    def trace_time_s(self, /) -> NDArray[float64]:
        """
        Seconds since the run began, of each improvement.
        """
    @property
    def trace_upper_bound(self, /) -> NDArray[int64]:
        """
        Upper bound.
        """
    @property
    def upper_bound(self, /) -> int:
        """
        No set is larger.
        """

@disjoint_base
class State:
    """
    A plan in the making, and what every further step would cost.
    """
    HARD: Final[int]
    """
    What one broken hard rule costs; soft costs stay below it.
    """
    def __len__(self, /) -> int: ...
    def __new__(cls, /, problem: Problem, session: Session | None = None) -> State: ...
    def __repr__(self, /) -> str: ...
    def candidates(self, /, link: SupportsIndex) -> NDArray[int64]:
        """
        Return the candidates of a link.

        Parameters
        ----------
        link : int
            Index of the link.

        Returns
        -------
        numpy.ndarray
            int64, hertz, ascending, read-only.

        Raises
        ------
        IndexError
            There is no such link.
        """
    def choice(self, /, link: SupportsIndex) -> int | None:
        """
        Return the candidate on which a link stands.

        Parameters
        ----------
        link : int
            Index of the link.

        Returns
        -------
        int or None
            Index of the candidate; None while the link is off.

        Raises
        ------
        IndexError
            There is no such link.
        """
    def conflicts(self, /, link: SupportsIndex) -> list[list[int]]:
        """
        List the hard rules that a placed link takes part in breaking.

        Parameters
        ----------
        link : int
            Index of the link.

        Returns
        -------
        list of list of int
            For each broken rule the other links it needs: with one of them gone it holds. At most
            4096 rules. Empty for a link that is off.

        Raises
        ------
        IndexError
            There is no such link.

        Notes
        -----
        O(n^(k-1) log n) for forms of k letters among n carriers.
        """
    def cost(self, /, link: SupportsIndex) -> NDArray[int64]:
        """
        Return what one more link like this one would cost on each of its candidates.

        Meant for a link that is not placed: of a placed one the row holds its conflicts with itself.

        Parameters
        ----------
        link : int
            Index of the link.

        Returns
        -------
        numpy.ndarray
            int64, one entry per candidate: broken hard rules times `State.HARD`, plus soft cost. A
            read-only view of the engine's row, not a copy. It is the cost until the next `place` or
            `lift`; kept longer it stays as it was, whatever happens to the state.

        Raises
        ------
        IndexError
            There is no such link.
        """
    @property
    def evaluations(self, /) -> int:
        """
        Moves made so far.
        """
    def frequencies(self, /) -> NDArray[int64]:
        """
        Return where every link stands, in hertz; -1 for a link that is off.
        """
    @property
    def hard(self, /) -> int:
        """
        Hard rules broken.
        """
    def lift(self, /, link: SupportsIndex) -> int:
        """
        Take a placed link off the air.

        Parameters
        ----------
        link : int
            Index of the link.

        Returns
        -------
        int
            Index of the candidate it stood on.

        Raises
        ------
        IndexError
            There is no such link.
        MoveError
            The link is not placed.
        """
    def locked(self, /, link: SupportsIndex) -> int | None:
        """
        Return the candidate to which a link is locked.

        Parameters
        ----------
        link : int
            Index of the link.

        Returns
        -------
        int or None
            Index of the candidate; None where the link is free.

        Raises
        ------
        IndexError
            There is no such link.
        """
    def move_to(self, /, frequencies: NDArray[int64]) -> None:
        """
        Move every link to its frequency in this column, -1 for off: all, or none on an error.
        """
    def place(self, /, link: SupportsIndex, at: SupportsIndex) -> None:
        """
        Put a link that is off on one of its candidates.

        Parameters
        ----------
        link : int
            Index of the link.
        at : int
            Index of the candidate.

        Raises
        ------
        IndexError
            There is no such link or candidate.
        MoveError
            The link is placed, or locked to another candidate.
        """
    @property
    def soft(self, /) -> int:
        """
        Soft cost.
        """
    @property
    def total(self, /) -> int:
        """
        The cost of all that is placed: broken hard rules times `State.HARD`, plus soft cost.
        """
    def unlocked(self, /) -> list[int]:
        """
        Return the links that no lock holds, by index.
        """
    @property
    def unserved(self, /) -> int:
        """
        Summed priority of the links that are off.
        """

@final
class TraceColumns:
    """
    The events of a run as columns of equal length.
    """
    @property
    def bound(self, /) -> NDArray[int64]:
        """
        Proved least value of `unserved`.
        """
    @property
    def evaluations(self, /) -> NDArray[int64]:
        """
        Table moves so far in the restart.
        """
    @property
    def hard(self, /) -> NDArray[int64]:
        """
        Hard violations.
        """
    @property
    def iteration(self, /) -> NDArray[int64]:
        """
        Iterations of the restart so far.
        """
    @property
    def kind(self, /) -> list[str]:
        """
        `restart`, `improvement`, `progress` or `stop`.
        """
    @property
    def objective(self, /) -> NDArray[int64]:
        """
        Value of the objective; -1 where no plan counts.
        """
    @property
    def refused(self, /) -> NDArray[int64]:
        """
        Links without a carrier.
        """
    @property
    def restart(self, /) -> NDArray[int64]:
        """
        Restart index.
        """
    @property
    def soft(self, /) -> NDArray[int64]:
        """
        Soft cost.
        """
    @property
    def time_s(self, /) -> NDArray[float64]:
        """
        Seconds since the run began.
        """
    @property
    def unserved(self, /) -> NDArray[int64]:
        """
        Their summed priority.
        """

def canonical_form(text: str) -> str:
    """
    A product form in canonical order: positive coefficients first, larger ones before smaller.
    """

def check(problem: Problem, frequencies: NDArray[int64], *, threads: SupportsIndex | None) -> tuple[tuple[int, int, int, int, bool], list[tuple[str, bool, int, list[int], str]]]:
    """
    Recount everything an assignment breaks; see `sidon.check`.
    """

def form_of_coefficients(coefficients: SupportsGetItem[int, SupportsIndex]) -> str:
    """
    The product form with these coefficients, in canonical order.
    """

def format_frequency(hertz: SupportsIndex) -> str:
    """
    Print a frequency exactly; see `sidon.format_frequency`.
    """

def hit_counts(frequencies: NDArray[int64], guards: SupportsGetItem[int, tuple[str, NDArray[int64]]], *, threads: SupportsIndex | None) -> list[NDArray[int64]]:
    """
    Count the hits of each form on each victim; see `sidon.hit_counts`.
    """

def hits(frequencies: NDArray[int64], guards: SupportsGetItem[int, tuple[str, NDArray[int64]]], *, threads: SupportsIndex | None) -> tuple[NDArray[int64], NDArray[int64], NDArray[int64], NDArray[int64], NDArray[int64]]:
    """
    List every hit; see `sidon.hits`.
    """

def largest_set(candidates: NDArray[int64], separation: SupportsIndex, guards: SupportsGetItem[int, tuple[str, SupportsIndex]], *, seed: SupportsIndex, iterations: SupportsIndex | None, seconds: SupportsFloat | SupportsIndex | None, threads: SupportsIndex | None, progress: Any | None) -> SetOutcome:
    """
    Find the largest compatible set; see `sidon.largest_set`.
    """

def parse_frequency(text: str) -> int:
    """
    Read a frequency exactly; see `sidon.parse_frequency`.
    """

def refusals(problem: Problem, frequencies: NDArray[int64], links: SupportsGetItem[int, SupportsIndex]) -> list[tuple[int, int, int, int, int]]:
    """
    Count what blocks each of some links; see `sidon.why_refused`.
    """

def solve(problem: Problem, *, objective: str, method: str, seed: SupportsIndex, iterations: SupportsIndex | None, seconds: SupportsFloat | SupportsIndex | None, threads: SupportsIndex | None, progress: Any | None, start: NDArray[int64] | None = None) -> Outcome:
    """
    Search for an assignment; see `sidon.solve`.
    """

def versions() -> dict[str, str]:
    """
    The version of the engine, and whether it was built for release.
    """
