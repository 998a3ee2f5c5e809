"""What a repair costs at a large event beside planning anew: links retuned, and seconds.

The event is that of `alternatives.py`, everything invented. The whole plan counts as on the air.

    maturin develop --release && python tests/bench/repair.py [LINKS] [SECONDS]
"""

from __future__ import annotations

import sys

from alternatives import large_study

import sidon
from sidon import MHz, event


def main() -> None:
    """Plan, then repair after one change of each kind."""
    links = int(sys.argv[1]) if len(sys.argv) > 1 else 800
    seconds = float(sys.argv[2]) if len(sys.argv) > 2 else 5.0
    plan = sidon.Study.from_dict(large_study(links)).plan(seed=1, seconds=60)
    print(plan)
    first = plan.assignments[0]
    used = sorted(
        channel
        for channel in range(21, 49)
        if channel not in {row.channel for row in plan.document.spectrum.occupied}
    )
    cases = {
        "a link is hit": [event.Hit(first.link)],
        f"channel {used[0]} comes on the air": [event.Channel(used[0])],
        f"channels {used[0]} and {used[1]}": [event.Channel(used[0]), event.Channel(used[1])],
        "ten links arrive": [event.Arrive("hand-analogue", "zone-1", 10, windows=["day-1"])],
        "ten links get other equipment": [
            event.Swap([row.link for row in plan.assignments[:10]], "wide-link")
        ],
        "a foreign carrier appears": [
            event.Foreign("visitor", 512 * MHz, "zone-1", "hand-analogue")
        ],
    }
    print("change; retuned; cannot stay; without carrier; proven; s; anew: retuned; without; s")
    for name, changes in cases.items():
        found = plan.repair(*changes, compare=True, seconds=seconds)
        anew = found.replan
        assert anew is not None
        print(
            f"{name}; {len(found.retuned)}; {found.count_bound}; {len(found.refused)}; "
            f"{found.proven}; {found.elapsed_s - anew.elapsed_s:.2f}; {anew.retuned}; "
            f"{anew.refused}; {anew.elapsed_s:.2f}"
        )
        print("   ", ", ".join(f"{s.name}: {s.retuned} retuned" for s in found.stages))


if __name__ == "__main__":
    main()
