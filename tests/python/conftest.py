"""What several tests share: a small study, whole and sound, to be broken as each test needs."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

import sidon


def small_study() -> dict[str, Any]:
    """Return a study of ten links and three spares over three free TV channels; invented."""
    return {
        "format": "sidon-study/1",
        "name": "Small evening",
        "place": {"name": "Invented hall"},
        "availability": {
            "ranges": [[470, 500]],
            "tv_raster": {"first_edge": 470, "width": 6, "first_number": 14, "last_number": 18},
            "occupied": [15, 17],
        },
        "profiles": [
            {
                "name": "hand",
                "kind": "analogue handheld microphone",
                "ranges": [[470, 500]],
                "raster": "25 kHz",
                "bandwidth": "200 kHz",
                "separation": "350 kHz",
                "guards": {"2A-B": "50 kHz", "A+B-C": "25 kHz"},
            },
            {
                "name": "ears",
                "kind": "in-ear transmitter",
                "ranges": [[494, 500]],
                "raster": "25 kHz",
                "bandwidth": "200 kHz",
                "separation": "400 kHz",
                "guards": {"2A-B": "100 kHz"},
            },
        ],
        "zones": ["hall", "yard"],
        "couplings": [{"zones": ["hall", "yard"], "degree": "separation"}],
        "windows": [
            {"name": "rehearsal", "start": "2031-05-01T10:00", "end": "2031-05-01T18:00"},
            {"name": "show", "start": "2031-05-01T20:00", "end": "2031-05-01T23:30"},
        ],
        "demand": [
            {"id": "vox", "count": 5, "profile": "hand", "zone": "hall", "spares": "20 %"},
            {
                "ids": ["host", "guest"],
                "id": "talk",
                "profile": "hand",
                "zone": "yard",
                "spares": 1,
            },
            {
                "id": "ears",
                "count": 3,
                "profile": "ears",
                "zone": "hall",
                "spares": 1,
                "windows": ["show"],
            },
        ],
        "locks": {"vox-1": "470.5 MHz"},
        "incumbents": [
            {"name": "news crew", "frequency": 484.25, "zone": "yard", "profile": "hand"}
        ],
    }


@pytest.fixture
def study_fields() -> dict[str, Any]:
    return small_study()


@pytest.fixture(scope="session")
def small_plan() -> sidon.Plan:
    return sidon.Study.from_dict(small_study()).plan(seed=1, iterations=20_000)


@pytest.fixture
def faults_of() -> Callable[[dict[str, Any]], dict[str, sidon.Fault]]:
    """Read a study that must fail, and return its faults by place."""

    def read(fields: dict[str, Any]) -> dict[str, sidon.Fault]:
        with pytest.raises(sidon.StudyError) as caught:
            sidon.Study.from_dict(fields)
        return {fault.place: fault for fault in caught.value.faults}

    return read
