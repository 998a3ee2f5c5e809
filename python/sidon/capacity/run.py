"""The whole of a study of capacity: rows first, then what would change them, then mixes."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cache
from itertools import combinations
from typing import TYPE_CHECKING

from sidon._faults import nearest
from sidon._options import check_options
from sidon.capacity.budget import Budget, Moment
from sidon.capacity.case import Case, Found, settled, shared
from sidon.capacity.limits import rules_of, too_much
from sidon.capacity.lines import Line, case_of, lines_of, overlap, unchecked
from sidon.capacity.mixing import Kind, mix_of, needs_of, together
from sidon.capacity.need import Need, assumptions
from sidon.capacity.notes import explained, notes_of
from sidon.capacity.result import GAP_HZ, Capacity, Mix, Row, Spectrum, WhatIf
from sidon.capacity.search import answer_all, unsearched
from sidon.capacity.verdict import (
    NOT_FOUND,
    OPEN_LATER,
    SHORT_LATER,
    TOO_FEW,
    UNKNOWN,
    judge,
)
from sidon.capacity.what_if import changes
from sidon.equipment.catalogue import Catalogue
from sidon.equipment.expand import catalogue_of
from sidon.exceptions import Fault, InvalidProblemError, StudyError
from sidon.study.ask import CapacityAsk
from sidon.study.availability import blocks, free_ranges, why_nothing
from sidon.study.schema import Availability

if TYPE_CHECKING:
    from sidon.study import Study

__all__ = ["DEFAULT_SECONDS", "capacity"]

DEFAULT_SECONDS = 5.0

# What mixes take of the budget, and what the rows take of the rest if there are what-ifs.
_MIXES, _ROWS = 0.2, 0.6
_MOST_MIXES = 10


def capacity(
    study: Study,
    *,
    classes: str | Sequence[str] | None,
    what_if: bool,
    seed: int,
    seconds: float | None,
    iterations: int | None,
    threads: int | None,
    progress: Callable[[Moment], object] | None,
) -> Capacity:
    """Answer how many fit; see `sidon.Study.capacity`."""
    check_options("max-service", "local-search", seed, iterations, seconds, threads, progress)
    if seconds is None and iterations is None:
        seconds = DEFAULT_SECONDS
    model = study.model
    catalogue = catalogue_of(model.classes)
    generic = _generic(classes, catalogue, alone=not model.profiles)
    lines = lines_of(model, catalogue, generic)
    spans = sorted({span for line in lines for span in line.profile.ranges})
    wide = explained(study, _pieces(spans)).model.availability
    study = explained(study, spans)
    model = study.model
    work = _Work(study, Budget(seconds, iterations, progress), seed, threads)
    try:
        work.run(lines, what_if=what_if)
    except KeyboardInterrupt:
        work.budget.stopped = True
    rows = work.rows(lines)
    limit = "iteration-limit" if iterations is not None else "finished"
    return Capacity(
        study=model.name,
        place=model.place.name,
        rows=tuple(rows),
        what_ifs=tuple(work.what_ifs()),
        mixes=tuple(work.mixes),
        spectrum=Spectrum(
            ranges_hz=tuple(sorted(wide.ranges)),
            taken=tuple((b.low_hz, b.high_hz, b.label) for b in blocks(wide)),
            source=model.availability.source,
            as_of=model.availability.as_of,
        ),
        years=work.ask.years,
        notes=(*assumptions(model), *notes_of(study, lines, work.free, work.rules)),
        seed=seed,
        stop_reason="interrupted" if work.budget.stopped else _ended(work.budget, limit),
    )


def _pieces(spans: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
    """Join ranges across small gaps: what is told of the air around what is tuned."""
    merged: list[tuple[int, int]] = []
    for low, high in spans:
        if merged and low - merged[-1][1] <= GAP_HZ:
            merged[-1] = (merged[-1][0], max(high, merged[-1][1]))
        else:
            merged.append((low, high))
    return merged


def _ended(budget: Budget, otherwise: str) -> str:
    return "time-limit" if budget.late() else otherwise


def _generic(
    classes: str | Sequence[str] | None, catalogue: Catalogue, *, alone: bool
) -> list[str]:
    """Read which classes to list: all where the study has no profile of its own."""
    if classes == "all" or (classes is None and alone):
        return list(catalogue)
    wanted = [classes] if isinstance(classes, str) else list(classes or ())
    faults = [
        Fault("classes", f"the class {name!r} is unknown", nearest(str(name), list(catalogue)))
        for name in wanted
        if name not in catalogue
    ]
    if faults:
        raise InvalidProblemError(faults)
    return list(dict.fromkeys(wanted))


class _Work:
    """Cases and answers of one study, as they come in."""

    def __init__(self, study: Study, budget: Budget, seed: int, threads: int | None) -> None:
        self.model = study.model
        self.ask = self.model.capacity or CapacityAsk()
        self.budget = budget
        self.mixes: list[Mix] = []
        self.free = free_ranges(self.model.availability)
        self.rules = rules_of(study)
        self._study = study
        self._guarded = cache(self._with_guard)
        self._seed = seed
        self._threads = threads
        self._known: list[tuple[Case, Found]] = []
        self._cases: list[Case] = []
        self._changes: list[tuple[Line, str, Case]] = []
        self._agreed: tuple[int, dict[tuple[object, ...], Found]] = (0, {})

    def run(self, lines: Sequence[Line], *, what_if: bool) -> None:
        """Do all of it, or as much as the budget allows."""
        self._cases = [case_of(line, self.model.availability) for line in lines]
        self.budget.total = len(self._cases)
        mixing = len({line.profile.name for line in lines if line.need.asked}) > 1
        end = 1 - _MIXES if mixing else 1.0
        middle = _ROWS * end if what_if else end
        self._answer(self._cases, since=0, until=middle)
        if what_if:
            focus = self._focus(lines)
            self._changes = [
                (line, name, case)
                for line in focus
                for name, case in changes(line, self.model.availability, self.ask, self._guarded)
            ]
            self.budget.total += len(self._changes)
            cases = [case for _, _, case in self._changes]
            self._answer(cases, since=middle, until=end)
        self._mix(lines, since=end)

    def _answer(self, cases: Sequence[Case], *, since: float, until: float) -> None:
        answer_all(
            cases,
            self._known,
            self.budget,
            since=since,
            until=until,
            seed=self._seed,
            threads=self._threads,
        )

    def _settled(self, cases: Sequence[Case]) -> list[Found]:
        """Answers to cases, in the light of all that was answered."""
        if self._agreed[0] != len(self._known):
            found = settled(
                [case for case, _ in self._known], [answer for _, answer in self._known]
            )
            by_key = {case.key: f for (case, _), f in zip(self._known, found, strict=True)}
            self._agreed = len(self._known), by_key
        agreed = self._agreed[1]
        return [
            agreed.get(case.key) or shared(case, self._known) or unsearched(case) for case in cases
        ]

    def _with_guard(self, edge_guard_hz: int) -> Availability | None:
        """Say what would be free with another edge guard; None where a profile had nothing left."""
        fields = self._study.to_dict()
        fields["availability"]["edge_guard"] = f"{edge_guard_hz} Hz"
        try:
            return self._study.from_dict(fields).model.availability
        except StudyError:
            return None

    def rows(self, lines: Sequence[Line]) -> list[Row]:
        """Return the rows, in the order of the lines."""
        return [
            self._row(line, case, found)
            for line, case, found in zip(
                lines, self._cases, self._settled(self._cases), strict=True
            )
        ]

    def _row(self, line: Line, case: Case, found: Found) -> Row:
        availability = self.model.availability
        spans = sorted(line.profile.ranges)
        dark = unchecked(spans, availability)
        whole = overlap(spans, spans)
        verdict, reason = judge(found, line.need, self.ask.years)
        if not len(case.candidates) and not dark:
            reason = f"no carrier may stand there: {why_nothing(line.profile, availability)}"
        if dark >= whole:
            verdict, reason = UNKNOWN, "the study says nothing about this range"
        elif dark:
            reason += f"; {dark / 1e6:g} of {whole / 1e6:g} MHz are not checked and not counted"
            # There may be room in what nobody has looked at.
            unsure = {TOO_FEW: UNKNOWN, NOT_FOUND: UNKNOWN, SHORT_LATER: OPEN_LATER}
            verdict = unsure.get(verdict, verdict)
        return Row(
            profile=line.profile.name,
            kind=line.profile.kind,
            band=line.band,
            generic=line.generic,
            ranges_hz=tuple(spans),
            free_hz=overlap(spans, self.free),
            unchecked_hz=dark,
            candidates=len(case.candidates),
            fits=found.size,
            upper_bound=found.bound,
            proof=found.proof,
            asked=line.need.asked,
            spares=line.need.spares,
            later=line.need.later,
            where=line.need.where,
            verdict=verdict,
            reason=reason,
            frequencies_hz=tuple(found.frequencies.tolist()),
            check=too_much(line, self.free, self.rules),
        )

    def _focus(self, lines: Sequence[Line]) -> list[Line]:
        """Choose what the what-ifs and mixes are about: profiles, or the best class of a kind."""
        own = [line for line in lines if not line.generic and line.whole]
        if own:
            return [line for line in own if line.need.asked] or own
        answers = self._settled(self._cases)
        best: dict[bool, tuple[int, Line]] = {}
        for line, found in zip(lines, answers, strict=True):
            known = best.get(line.in_ear)
            if line.need.asked and found.size and (known is None or found.size > known[0]):
                best[line.in_ear] = found.size, line
        return [line for _, line in best.values()]

    def what_ifs(self) -> list[WhatIf]:
        """Return what would change the numbers, row by row."""
        answers = self._settled([case for _, _, case in self._changes])
        bases = {line: case_of(line, self.model.availability) for line, _, _ in self._changes}
        before = dict(zip(bases, self._settled(list(bases.values())), strict=True))
        return [
            self._what_if(line, name, found, before[line])
            for (line, name, _), found in zip(self._changes, answers, strict=True)
        ]

    def _what_if(self, line: Line, name: str, found: Found, before: Found) -> WhatIf:
        verdict, reason = judge(found, line.need, self.ask.years)
        return WhatIf(
            profile=line.profile.name,
            band=line.band,
            case=name,
            fits=found.size,
            upper_bound=found.bound,
            proof=found.proof,
            change=found.size - before.size,
            verdict=verdict,
            reason=reason,
            frequencies_hz=tuple(found.frequencies.tolist()),
        )

    def _mix(self, lines: Sequence[Line], *, since: float) -> None:
        focus = {line.profile.name: line for line in self._focus(lines) if line.need.asked}
        chosen = self._chosen(lines) if self.ask.mixes else {}
        named = [(chosen[a], chosen[b]) for a, b in self.ask.mixes if {a, b} <= set(chosen)]
        # What is asked without demand may be any profile of its kind: those are alternatives.
        pairs = named or [
            (a, b)
            for a, b in combinations(focus.values(), 2)
            if self.model.demand or a.in_ear != b.in_ear
        ]
        pairs = pairs[:_MOST_MIXES] if not named else pairs
        self.budget.total += len(pairs)
        for index, (a, b) in enumerate(pairs):
            if self.budget.tell(f"{a.label} with {b.label}"):
                return
            needs = needs_of(self.model, a, b)
            if needs is not None:
                one, two = self._kind(a, needs[0]), self._kind(b, needs[1])
                bound = together(one.case, two.case, self._known)
                grant = self.budget.grant(
                    left=len(pairs) - index, of=len(pairs), since=since, until=1.0
                )
                self.mixes.append(
                    mix_of(
                        *(one, two, bound, grant, self.budget),
                        seed=self._seed,
                        threads=self._threads,
                    )
                )
            self.budget.done += 1

    def _kind(self, line: Line, need: Need) -> Kind:
        case = case_of(line, self.model.availability)
        dark = unchecked(line.profile.ranges, self.model.availability)
        return Kind(line, need, case, self._settled([case])[0], dark > 0)

    def _chosen(self, lines: Sequence[Line]) -> dict[str, Line]:
        """Choose the line that a name in a mix means: all of a profile, or the best of a class."""
        found: dict[str, tuple[int, Line]] = {}
        for line, answer in zip(lines, self._settled(self._cases), strict=True):
            known = found.get(line.profile.name)
            if line.generic and (known is None or answer.size > known[0]):
                found[line.profile.name] = answer.size, line
        # A profile that has the name of its class comes first.
        own = {line.profile.name: line for line in lines if line.whole and not line.generic}
        return {name: line for name, (_, line) in found.items()} | own
