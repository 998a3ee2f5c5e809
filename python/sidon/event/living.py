"""What a plan can do while it is on the air; `sidon.Plan` takes these methods from here."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sidon.exceptions import Fault, InvalidProblemError

if TYPE_CHECKING:
    from sidon._arrays import Frequencies
    from sidon.event.alternatives import Alternatives
    from sidon.event.diff import PlanDiff
    from sidon.plan.document import PlanDocument

__all__ = ["Living"]


class Living:
    """The part of a plan that lives with the event: compare, replace, repair, keep its promise."""

    __slots__ = ()

    @property
    def document(self) -> PlanDocument:
        """The plan as plain data."""
        raise AttributeError

    def diff(self, other: object) -> PlanDiff:
        """Tell what another plan does otherwise, link by link.

        Parameters
        ----------
        other : Plan
            The newer plan.

        Returns
        -------
        PlanDiff
            Retuned, added, served, removed, refused links and those under other rules, with counts
            and columns; and the rules of the plan as a whole that differ.

        Raises
        ------
        InvalidProblemError
            When `other` is no plan.

        Notes
        -----
        O(links + rules). Links go by name.
        """
        from sidon.event.diff import plan_diff

        if not isinstance(other, Living):
            what = f"a {type(other).__name__} is no plan"
            raise InvalidProblemError([Fault("other", what, "give a Plan; see Plan.from_json")])
        return plan_diff(self.document, other.document)

    def alternatives(
        self,
        link: str,
        k: int = 5,
        *,
        levels: tuple[Frequencies, Frequencies] | None = None,
    ) -> Alternatives:
        """Find the best frequencies to move one link to, right now.

        Parameters
        ----------
        link : str
            A link of the plan.
        k : int, default 5
            How many at most.
        levels : tuple of array, optional
            A scan: frequencies in hertz, ascending, and the level of each in dBm. Quieter ones then
            come before louder ones, in steps of 6 dB; those the scan does not cover come last.

        Returns
        -------
        Alternatives
            The best first: spares kept for the link, then by scan level, by clearance (how much
            every rule around it could grow), and by nearness to where it stands. Each breaks no
            rule with any other carrier, by the independent check.

        Raises
        ------
        InvalidProblemError
            When there is no such link, or an argument is out of range; every fault is listed.

        Notes
        -----
        Only links that share air and time matter, so that milliseconds suffice at a large event.
        Of forms with five letters and more, products near the link are not listed with reasons
        where too many carriers share the air; they are kept clear of all the same.

        Examples
        --------
        >>> from sidon import Study
        >>> from sidon.demo import study_text
        >>> plan = Study.from_toml_text(study_text()).plan(seed=1, iterations=50_000)
        >>> best = plan.alternatives("vox-1", k=3)
        >>> [row.spare for row in best]
        ['vox-spare-1', 'vox-spare-2', None]
        """
        from sidon.event.alternatives import find_alternatives

        return find_alternatives(self.document, link, k, levels)
