"""What a plan can do while it is on the air; `sidon.Plan` takes these methods from here."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sidon.exceptions import Fault, InvalidProblemError

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterable, Mapping

    from sidon._arrays import Frequencies
    from sidon.event.alternatives import Alternatives
    from sidon.event.changes import Change
    from sidon.event.diff import PlanDiff
    from sidon.event.promise import SparePromise
    from sidon.event.repaired import Repair
    from sidon.event.what_if import WhatIf
    from sidon.plan.document import PlanDocument
    from sidon.spectrum.scan import Scan

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
        levels: Scan | tuple[Frequencies, Frequencies] | None = None,
    ) -> Alternatives:
        """Find the best frequencies to move one link to, right now.

        Parameters
        ----------
        link : str
            A link of the plan.
        k : int, default 5
            How many at most.
        levels : Scan or tuple of array, optional
            A scan, of which the highest level of all sweeps counts; or frequencies in hertz,
            ascending, and the level of each in dBm. Quieter ones then come before louder ones, in
            steps of 6 dB; those the scan does not cover come last.

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
        ['vox-spare-1', 'vox-spare-2']
        """
        from sidon.event.alternatives import find_alternatives

        return find_alternatives(self.document, link, k, levels)

    def repair(
        self,
        *changes: Change,
        on_air: Iterable[str] | dt.datetime | str | None = None,
        weights: Mapping[str, int] | None = None,
        retry_refused: bool = False,
        compare: bool = False,
        seed: int = 0,
        seconds: float | None = None,
    ) -> Repair:
        """Find the plan that copes with changes and retunes the fewest links, by weight.

        The plan alone is enough; no study is needed.

        Parameters
        ----------
        *changes : Change
            What happened: `sidon.event` has one class for each kind.
        on_air : iterable of str, datetime or str, optional
            Names of the links on the air now, or the local time that tells by their windows; a time
            of day alone, such as "20:30", where windows are open then on one day only.
        weights : mapping of str to int, optional
            What moving single links weighs, 1 to 1000, instead of the usual: the priority, ten
            times that while on the air (or when that is not told), 1 for a spare.
        retry_refused : bool, default False
            Retune others for what the plan had refused, too. Without, such a link gets a carrier
            where one is clear and nobody is retuned for it, before newcomers that count no more.
        compare : bool, default False
            Also plan anew, and tell how many links that would retune.
        seed : int, default 0
            Equal seeds give equal repairs, unless the time limit cuts one short.
        seconds : float, optional
            Time limit, five seconds when not given; a repair that cannot be better ends at once.

        Returns
        -------
        Repair
            Required links keep or get a carrier first, then spares; then moves weigh the least.
            Locked links and foreign carriers never move. The plan has passed its check. After
            Ctrl-C it is the best so far, with `Plan.stop_reason` "interrupted".

        Raises
        ------
        InvalidProblemError
            When a change does not go with the plan, or would move a locked link; every fault is
            listed.
        TooLargeError
            When the plan is beyond what the engine can hold.

        Notes
        -----
        First only links in conflict move, the lightest set that solves every conflict (a minimum
        hitting set, proved where that is fast). Where these find no place, they push others aside;
        then the engine moves all links around them, and at last all links.

        Examples
        --------
        >>> from sidon import Study, event
        >>> from sidon.demo import study_text
        >>> plan = Study.from_toml_text(study_text()).plan(seed=1, iterations=50_000)
        >>> repair = plan.repair(event.Hit("ears-1"), seconds=2)
        >>> [row.link for row in repair.retuned], repair.proven
        (['ears-1'], True)
        """
        from sidon.event.repair import find_repair

        repair = find_repair(
            self.document,
            changes,
            on_air=on_air,
            weights=weights,
            retry_refused=retry_refused,
            compare=compare,
            seed=seed,
            seconds=seconds,
        )
        repair.plan.check()
        return repair

    def what_if(
        self,
        *changes: Change,
        on_air: Iterable[str] | dt.datetime | str | None = None,
        weights: Mapping[str, int] | None = None,
        repair: bool = False,
        seed: int = 0,
        seconds: float | None = None,
    ) -> WhatIf:
        """Tell what changes would break while nobody moves.

        Parameters
        ----------
        *changes : Change
            What might happen, as for `repair`.
        on_air, weights, seed, seconds
            As for `repair`.
        repair : bool, default False
            Also repair, to tell what that would cost; not where a locked link could not stay, which
            `WhatIf.locked` names.

        Returns
        -------
        WhatIf
            Rules broken, links that could not stay, proved bounds, and room for newcomers.

        Raises
        ------
        InvalidProblemError
            As for `repair`, but for locks.

        Examples
        --------
        >>> from sidon import MHz, Study, event
        >>> from sidon.demo import study_text
        >>> plan = Study.from_toml_text(study_text()).plan(seed=1, iterations=50_000)
        >>> plan.what_if(event.Block(560 * MHz, 566 * MHz)).harmless
        True
        """
        from sidon.event.what_if import find_out

        return find_out(
            self.document,
            changes,
            on_air=on_air,
            weights=weights,
            repair=repair,
            seed=seed,
            seconds=seconds,
        )

    def spare_promise(self) -> SparePromise:
        """Check that any one link may move to any spare that is kept for it.

        Every spare is coordinated like a link, so that all may be on the air at once with the whole
        plan. Here each required link in turn takes over each spare of its zone and leaves its own
        frequency. Dedicated spares are kept for the links of their profile, zone and windows;
        shared ones for every link of their zone whose profile can tune them, while they are on.

        Returns
        -------
        SparePromise
            The verdict, and every pair of link and spare as columns.

        Notes
        -----
        O(links) looks at the cost table, a millisecond or two each.

        Examples
        --------
        >>> from sidon import Study
        >>> from sidon.demo import study_text
        >>> plan = Study.from_toml_text(study_text()).plan(seed=1, iterations=50_000)
        >>> plan.spare_promise().holds
        True
        """
        from sidon.event.promise import spare_promise

        return spare_promise(self.document)
