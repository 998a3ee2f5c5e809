"""The progress line: the best so far, who is refused, and a sign of life."""

from __future__ import annotations

import io
import time
from dataclasses import dataclass
from typing import Any

import sidon
from sidon.cli.progress import Asked, Progress


@dataclass(frozen=True)
class At:
    """What a search tells about one moment."""

    time_s: float
    refused: int
    unserved: int = 0
    hard: int = 0
    restart: int = 0
    iteration: int = 0


TEN = Asked((1,) * 10)


class Terminal(io.StringIO):
    """A stream that takes itself for a terminal."""

    def isatty(self) -> bool:
        """Say so."""
        return True


def test_renews_one_line_on_a_terminal() -> None:
    screen = Terminal()
    progress = Progress(screen, asked=TEN)
    for moment in (At(0.0, 9, 9), At(0.2, 2, 2), At(0.4, 5, 5), At(0.6, 0, 0)):
        progress(moment)
    progress.close()
    lines = screen.getvalue().rstrip("\n").split("\r")[1:]
    assert [line.split("served ")[1][:7].strip() for line in lines] == [
        "1 of 10",
        "8 of 10",
        "8 of 10",  # a worse plan is never shown
        "10 of 1",
    ]
    assert screen.getvalue().count("\n") == 1
    assert max(map(len, lines)) < 80  # what wraps cannot be renewed


def test_elsewhere_is_a_line_per_improvement_and_the_last_is_never_lost() -> None:
    log = io.StringIO()
    progress = Progress(log, asked=TEN)
    for moment in (At(0.0, 9, 9), At(0.1, 5, 5), At(0.2, 1, 1), At(0.9, 4, 4)):
        progress(moment)
    progress.close()
    lines = log.getvalue().splitlines()
    assert [line.split("served ")[1].split(", refused")[0] for line in lines] == [
        "1 of 10",
        "9 of 10",
    ]


def test_gives_a_sign_of_life_while_nothing_is_reported() -> None:
    screen = Terminal()
    progress = Progress(screen, asked=TEN, seconds=60)
    deadline = time.monotonic() + 30
    while screen.getvalue().count("\r") < 2 and time.monotonic() < deadline:
        time.sleep(0.05)
    progress.close()
    first, second = screen.getvalue().rstrip("\n").split("\r")[1:3]
    assert "preparing" in first
    assert float(second.split()[0]) > float(first.split()[0])


def test_counts_iterations_of_all_restarts_and_what_time_is_left() -> None:
    log = io.StringIO()
    progress = Progress(log, asked=TEN, iterations=5_000, seconds=60)
    progress(At(0.0, 3, 3, restart=0, iteration=1_000))
    progress(At(1.0, 2, 2, restart=1, iteration=400))
    progress(At(2.0, 1, 1, restart=0, iteration=1_500))
    assert log.getvalue().splitlines()[-1].endswith("; 58 s left, 1,900 of 5,000 iterations")


def test_once_hushed_it_says_nothing() -> None:
    screen = Terminal()
    progress = Progress(screen, asked=TEN)
    progress(At(0.0, 9, 9))
    assert progress.hush()
    before = screen.getvalue()
    progress(At(1.0, 1, 1))
    progress.close()
    assert screen.getvalue() == before


def test_tells_required_links_from_spares(study_fields: dict[str, Any]) -> None:
    asked = Asked.of(sidon.Study.from_dict(study_fields))
    # A required link weighs one more than the three spares together.
    assert asked == Asked((1,) * 10, (1,) * 3)
    assert asked.parted(0, 0) == (0, 0)
    assert asked.parted(5, 2 * 4 + 3) == (2, 3)
    assert asked.parted(2, 2) == (0, 2)
    assert asked.parted(10, 40) == (10, 0)
    # Seventy of priority 5 and thirteen of priority 1, fourteen spares of 5 and one of 1.
    mixed = Asked((1,) * 13 + (5,) * 70, (1,) + (5,) * 14)
    unit = sum(mixed.spares) + 1
    assert mixed.parted(73, (55 * 5 + 4) * unit + 14 * 5) == (59, 14)
    # Ten is two of priority 5, or five of 1 and one of 5; four is two spares of 2, or four of 1.
    open_ = Asked((1,) * 9 + (5,) * 9, (1,) * 4 + (2,) * 4)
    assert open_.parted(6, 10 * (sum(open_.spares) + 1) + 4) is None
    assert Asked((1,) * 4).parted(3, 3) == (3, 0)


def test_the_weights_it_reads_are_those_of_the_problem(study_fields: dict[str, Any]) -> None:
    study_fields["demand"][0]["priority"] = 5
    study = sidon.Study.from_dict(study_fields)
    asked = Asked.of(study)
    priority = {row["id"]: row["priority"] for row in study.problem().to_dict()["links"]}
    for refused in (["vox-1"], ["vox-spare-1", "ears-1"], ["ears-spare-1", "vox-2", "vox-3"]):
        spares = sum("spare" in link for link in refused)
        weight = sum(priority[link] for link in refused)
        assert asked.parted(len(refused), weight) == (len(refused) - spares, spares)


def test_foreign_carriers_are_not_counted_as_links(study_fields: dict[str, Any]) -> None:
    study = sidon.Study.from_dict(study_fields)
    assert len(study.model.incumbents) == 1
    assert Asked.of(study).links == study.asked == len(study.plan(iterations=500).assignments)
