"""A scan in words: what it covers, its floor, what it sees, and what to be careful about."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from sidon.spectrum.scan.cells import Span
from sidon.spectrum.scan.rule import Threshold
from sidon.units import mhz_text

if TYPE_CHECKING:
    from sidon.spectrum.scan.heard import Heard
    from sidon.spectrum.scan.power import ChannelPower
    from sidon.spectrum.scan.scan import Scan

__all__ = ["CAUTIONS", "repr_text", "summary_text"]

_SHOWN = 30

CAUTIONS = (
    "A scan hears one spot, one antenna and one stretch of time: take it at the receivers' "
    "place with the antennas of the show, with and without your own transmitters, and again at "
    "show time.",
    "What it does not cover is not known; what it shows as quiet may be in use elsewhere or later. "
    "Licences and local rules decide what may be used; nothing here is a permission.",
)


def repr_text(heard: Heard) -> str:
    """Write a scan in one line."""
    scan = heard.scans[0]
    low, high = int(heard.frequency_hz[0]), int(heard.frequency_hz[-1])
    name = f"{scan.name!r}, " if scan.name else ""
    sweeps = len(scan.levels_dbm)
    return (
        f"Scan({name}{mhz_text(low)}-{mhz_text(high)} MHz, {len(scan.frequency_hz)} points, "
        f"{sweeps} sweep{'' if sweeps == 1 else 's'})"
    )


def summary_text(
    heard: Heard,
    *,
    ranges: Sequence[Span] | None,
    channels: Mapping[Any, Span] | None,
    listed: Sequence[Any],
    limit_dbm: float | None,
    threshold: Threshold,
) -> str:
    """Say in words what was heard.

    Parameters
    ----------
    heard : Heard
        One scan or several.
    ranges : sequence of (int, int), optional
        What is of interest, in hertz.
    channels : mapping, optional
        Edges in hertz of TV channels.
    listed : sequence
        Channels that a table calls occupied.
    limit_dbm : float, optional
        Limit of channel power.
    threshold : mapping
        How occupancy is decided.

    Returns
    -------
    str
        Several lines.
    """
    lines = [line for scan in heard.scans for line in _one(scan, threshold)]
    if ranges is not None:
        lines.append(f"Asked ranges: {heard.coverage(ranges)}.")
    lines += _seen(heard, threshold)
    if channels:
        lines += _channels(heard, channels, listed, threshold)
        if limit_dbm is not None:
            lines += _powers(heard, channels, limit_dbm)
    for head, texts in (("Mind", heard.warnings), ("Taken for granted", heard.notes)):
        lines += [f"{head}: {text}." for text in texts]
    lines += [f"Caution: {text}" for text in CAUTIONS]
    return "\n".join(lines)


def _one(scan: Scan, threshold: Threshold) -> list[str]:
    facts, sight = scan.facts, scan._sight(threshold)
    head = repr_text(scan).removeprefix("Scan(").removesuffix(")").replace("'", "")
    about = [
        f"resolution bandwidth {mhz_text(facts.resolution_bandwidth_hz)} MHz"
        if facts.resolution_bandwidth_hz is not None
        else "",
        f"taken {facts.taken.isoformat()}" if facts.taken is not None else "date not given",
        f"spot {facts.spot}" if facts.spot else "",
        f"antenna {facts.antenna}" if facts.antenna else "",
    ]
    lines = [f"Scan {head}; {', '.join(text for text in about if text)}."]
    low, high = (float(x) for x in np.quantile(scan.floor(**threshold), [0, 1]))
    floor = f"{low:.1f}" if high - low < 0.05 else f"{low:.1f} to {high:.1f}"
    text = f"Floor {floor} dBm"
    if facts.noise_bandwidth_hz is not None:
        more = 10 * math.log10(200_000 / facts.noise_bandwidth_hz)
        text += f", which is {low + more:.1f} dBm in 200 kHz"
    if np.isnan(sight.above_db):
        text += f"; threshold {sight.threshold_dbm[0]:.1f} dBm, as asked"
    else:
        text += f"; threshold {sight.above_db:.1f} dB above it"
    return [*lines, f"{text}.", *(f"Mind: {warning}." for warning in sight.warnings)]


def _seen(heard: Heard, threshold: Threshold) -> list[str]:
    rows = heard.occupied(**threshold)
    if not rows:
        return ["Nothing stands above the threshold."]
    width = sum(row.width_hz for row in rows)
    noun = "interval" if len(rows) == 1 else "intervals"
    lines = [f"Occupied: {len(rows)} {noun}, {mhz_text(width)} MHz in all."]
    strongest = sorted(rows, key=lambda row: -row.peak_dbm)[:_SHOWN]
    several = len(heard.scans) > 1
    swept = any(len(scan.levels_dbm) > 1 for scan in heard.scans)
    for row in sorted(strongest, key=lambda row: row.low_hz):
        by = f", seen by {', '.join(row.seen_by)}" if several else ""
        often = f", in {100 * row.share:.0f} % of the sweeps" if swept else ""
        lines.append(f"  {row}{often}{by}")
    if len(rows) > _SHOWN:
        lines.append(f"  and {len(rows) - _SHOWN} weaker ones")
    return lines


def _channels(
    heard: Heard, channels: Mapping[Any, Span], listed: Sequence[Any], threshold: Threshold
) -> list[str]:
    table = heard.compare(channels, listed, **threshold)
    findings: dict[str, list[str]] = {}
    for name, finding in zip(table["channel"].tolist(), table["finding"].tolist(), strict=True):
        findings.setdefault(finding, []).append(name)
    lines = [f"TV channels, {finding}: {', '.join(names)}." for finding, names in findings.items()]
    if any(finding.startswith("listed, not seen") for finding in findings):
        lines.append("A listed channel that is not seen here stays occupied.")
    return lines


def _powers(heard: Heard, channels: Mapping[Any, Span], limit_dbm: float) -> Iterable[str]:
    for scan in heard.scans:
        if scan.facts.noise_bandwidth_hz is None:
            continue
        head = f"Channel power against {limit_dbm:g} dBm"
        yield f"{head} ({scan.name}):" if len(heard.scans) > 1 else f"{head}:"
        rows = [row for row in scan.channels(channels, limit_dbm=limit_dbm) if row.covered]
        for verdict in ("above", "below"):
            powers = [f"{r.name} ({r.power_dbm:.1f})" for r in rows if r.verdict == verdict]
            if powers:
                yield f"  {verdict}: {', '.join(powers)} dBm"
        yield from _untold([row for row in rows if row.verdict == "cannot tell"])
    yield (
        "A limit holds as its rule says, with its antenna, place and date: a level below it is a "
        "measurement, not a permission."
    )


def _untold(rows: Sequence[ChannelPower]) -> Iterable[str]:
    """Group the channels of which a scan cannot tell by what is the matter."""
    deaf = [row for row in rows if row.limit_dbm is not None and row.power_dbm >= row.limit_dbm]
    part = [row for row in rows if row not in deaf]
    if deaf:
        names = ", ".join(f"{row.name} ({row.power_dbm:.1f})" for row in deaf)
        floors = f"{min(row.floor_dbm for row in deaf):.1f}"
        if (most := f"{max(row.floor_dbm for row in deaf):.1f}") != floors:
            floors += f" to {most}"
        yield (
            f"  cannot tell: {names} dBm: the scan's own floor adds up to {floors} dBm, too high "
            "for this limit: use a narrower resolution bandwidth or a more sensitive receiver"
        )
    if part:
        names = ", ".join(f"{row.name} ({100 * row.covered:.1f} %)" for row in part)
        yield f"  cannot tell: {names}: only so much of the channel is covered"
