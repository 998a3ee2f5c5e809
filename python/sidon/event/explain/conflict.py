"""A small set of links and rules that cannot hold together."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sidon.event.explain.fits import Effort, Verdict, fits, kind
from sidon.event.explain.rules import Rule, rules_of

if TYPE_CHECKING:
    from sidon.study.compile import Compiled, LinkRow

__all__ = ["Conflict", "Group", "find_conflict"]


@dataclass(frozen=True, slots=True)
class Group:
    """Links that are alike: one profile, zone and time.

    Parameters
    ----------
    links : tuple of str
        Their names; any others like them would do as well.
    profile, zone : str
        Their profile and zone.
    windows : tuple of str
        When they are on the air; empty means always.
    locked_hz : int or None
        The frequency they must keep.
    """

    links: tuple[str, ...]
    profile: str
    zone: str
    windows: tuple[str, ...]
    locked_hz: int | None

    @property
    def text(self) -> str:
        """The group in words."""
        when = f" on {', '.join(self.windows)}" if self.windows else ""
        fixed = " (frequency fixed)" if self.locked_hz is not None else ""
        first, last = self.links[0], self.links[-1]
        names = first if len(self.links) == 1 else f"such as {first} to {last}"
        return f"{len(self.links)} {self.profile} in {self.zone}{when}: {names}{fixed}"


@dataclass(frozen=True, slots=True)
class Conflict:
    """Links and rules that cannot hold together; without any one of them they can, as far as known.

    Parameters
    ----------
    groups : tuple of Group
        The links.
    rules : tuple of Rule
        The rules that matter.
    proved : bool
        Whether a bound shows that they do not fit; else the search found no way.
    smallest : bool
        Whether every group and rule was tried for leaving out; else the time was over before.
    """

    groups: tuple[Group, ...]
    rules: tuple[Rule, ...]
    proved: bool
    smallest: bool

    @property
    def size(self) -> int:
        """How many links it holds."""
        return sum(len(group.links) for group in self.groups)

    @property
    def text(self) -> str:
        """The conflict in words, one line each."""
        lines = [
            f"These {self.size} links cannot hold together (proved by a bound):"
            if self.proved
            else f"No plan was found that holds these {self.size} links together (no proof that "
            "there is none):"
        ]
        lines += [f"  {group.text}" for group in self.groups]
        lines += ["under these rules:", *(f"  {rule.text}" for rule in self.rules)]
        if not self.smallest:
            lines.append("The time was over before every part was tried: a smaller set may do.")
        return "\n".join(lines)


def find_conflict(compiled: Compiled, refused: Sequence[int], effort: Effort) -> Conflict | None:
    """Find links, one of the refused among them, and rules that cannot hold together.

    Parameters
    ----------
    compiled : Compiled
        The compiled study.
    refused : sequence of int
        Indices of links without a carrier; the first one is explained.
    effort : Effort
        How long to look.

    Returns
    -------
    Conflict or None
        None when all links fit after all, or none is refused.

    Notes
    -----
    Links alike are counted, so that a group shrinks by bisection; groups far from the refused link
    are tried first. A deletion filter then leaves out every rule that is not needed. Each question
    is a search of its own, so it takes about groups times log(links) searches.
    """
    for neighbourhood in _neighbourhoods(compiled, refused):
        verdict = fits(compiled, neighbourhood, effort)
        if verdict != "fits":
            return _shrink(compiled, neighbourhood, refused[0], verdict, effort)
    return None


def _neighbourhoods(compiled: Compiled, refused: Sequence[int]) -> Iterable[list[int]]:
    """From the zone of the first refused link to everything, each once."""
    if not refused:
        return
    focus = compiled.links[refused[0]]
    near = {focus.zone} | {
        zone
        for pair, degree in compiled.degrees.items()
        if degree != "none" and focus.zone in pair
        for zone in pair
    }
    tests = (
        lambda row: row.zone == focus.zone and row.profile == focus.profile,
        lambda row: row.zone == focus.zone,
        lambda row: row.zone in near,
        lambda _row: True,
    )
    before = 0
    for test in tests:
        links = [index for index, row in enumerate(compiled.links) if test(row)]
        if len(links) > before:
            before = len(links)
            yield links


def _shrink(
    compiled: Compiled, links: list[int], focus: int, verdict: Verdict, effort: Effort
) -> Conflict:
    groups = _alike(compiled, links, focus)
    counts = [len(group) for group in groups]

    def chosen(counts: Sequence[int]) -> list[int]:
        return sorted(i for group, n in zip(groups, counts, strict=True) for i in group[:n])

    complete = True
    for index, most in enumerate(counts):
        low, high = 0, most
        while low < high:
            if effort.spent:
                complete = False
                break
            middle = (low + high) // 2
            found = fits(compiled, chosen([*counts[:index], middle, *counts[index + 1 :]]), effort)
            if found == "fits":
                low = middle + 1
            else:
                high, verdict = middle, found
        counts[index] = high
    kept = chosen(counts)
    rules = rules_of(compiled, kept)
    dropped: set[Rule] = set()
    for rule in rules:
        if effort.spent:
            complete = False
            break
        found = fits(compiled, kept, effort, dropped | {rule})
        if found != "fits":
            dropped.add(rule)
            verdict = found
    named = [_group(compiled, group[:n]) for group, n in zip(groups, counts, strict=True) if n]
    return Conflict(
        groups=tuple(reversed(named)),
        rules=tuple(rule for rule in rules if rule not in dropped),
        proved=verdict == "proved",
        smallest=complete,
    )


def _alike(compiled: Compiled, links: list[int], focus: int) -> list[list[int]]:
    """Group links that are alike, those least like the focus first."""
    groups: dict[tuple[object, ...], list[int]] = {}
    for index in links:
        row = compiled.links[index]
        groups.setdefault(kind(row), []).append(index)
    centre = compiled.links[focus]

    def likeness(group: list[int]) -> tuple[bool, bool, bool, int]:
        row: LinkRow = compiled.links[group[0]]
        near = row.zone == centre.zone, row.profile == centre.profile
        return (*near, set(row.windows) == set(centre.windows), -group[0])

    return sorted(groups.values(), key=likeness)


def _group(compiled: Compiled, links: list[int]) -> Group:
    row = compiled.links[links[0]]
    names = tuple(compiled.links[index].id for index in links)
    return Group(names, row.profile, row.zone, row.windows, row.locked_hz)
