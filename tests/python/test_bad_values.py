"""Whatever stands in a study or a plan, it is read or refused with an explanation."""

from __future__ import annotations

import contextlib
import copy
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import sidon

Path = tuple[str | int, ...]

ODD: st.SearchStrategy[Any] = st.sampled_from(
    [
        *(None, True, False, 0, -1, 1, 50, 99_999, 2**63, 10**30, 1.5, 1e-6),
        *(float("nan"), float("inf"), "", " ", "x", "=1", "\x00", "470 MHz", "-5 kHz", "1e9"),
        *("full", "hall", "hand", "2031-01-01T00:00", b"x", ("a", "b")),
        *([], [[]], {}, {"a": 1}, {1: 2}, [None], [{}], [470, 608], [608, 470], ["hall"]),
    ]
)


def places(value: object, path: Path = ()) -> Iterator[Path]:
    """Every place in plain data, the top left out."""
    if path:
        yield path
    table = dict(enumerate(value)) if isinstance(value, list) else value
    for key, inner in table.items() if isinstance(table, dict) else ():
        yield from places(inner, (*path, key))


def spoil(data: st.DataObject, fields: dict[str, Any]) -> dict[str, Any]:
    """Put odd values in one or two places, or remove what stands there."""
    spoilt = copy.deepcopy(fields)
    for _ in range(data.draw(st.integers(1, 2))):
        path = data.draw(st.sampled_from(list(places(spoilt)) or [()]))
        if not path:
            break
        table: Any = spoilt
        for key in path[:-1]:
            table = table[key]
        if data.draw(st.booleans()):
            table[path[-1]] = copy.copy(data.draw(ODD))
        else:
            del table[path[-1]]
    return spoilt


@settings(max_examples=300, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.data())
def test_a_spoilt_study_is_read_or_refused(
    study_fields: dict[str, Any], data: st.DataObject
) -> None:
    fields = spoil(data, study_fields)
    try:
        study = sidon.Study.from_dict(fields)
    except sidon.StudyError as error:
        faults = error.faults
    else:
        assert sidon.Study.from_dict(study.to_dict()) == study
        return
    assert faults
    assert all(fault.place and fault.what and fault.remedy for fault in faults)


@settings(max_examples=300, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.data())
def test_a_spoilt_plan_is_read_or_refused(small_plan: sidon.Plan, data: st.DataObject) -> None:
    fields = spoil(data, small_plan.to_dict())
    try:
        plan = sidon.Plan.from_dict(fields)
    except sidon.PlanError:
        return
    assert plan.summary()
    with contextlib.suppress(sidon.CheckError, sidon.PlanError):
        assert plan.check().hard == 0


@pytest.mark.parametrize("odd", [None, [], "x", 1])
def test_what_is_no_table_is_refused(odd: Any) -> None:
    with pytest.raises(sidon.PlanError):
        sidon.Plan.from_dict(odd)
    with pytest.raises(sidon.StudyError, match="not a table"):
        sidon.Study.from_dict(odd)
