"""Scans of the air: sweeps of any make, what they see, and what that means for a plan."""

from sidon.spectrum.scan.cells import Coverage
from sidon.spectrum.scan.demo import demo_scan, demo_text, tv_channels
from sidon.spectrum.scan.merge import MergedScan
from sidon.spectrum.scan.occupied import Occupied
from sidon.spectrum.scan.planning import ScanExclusion
from sidon.spectrum.scan.power import ChannelPower, bandwidth_correction_db
from sidon.spectrum.scan.scan import Scan

__all__ = [
    "ChannelPower",
    "Coverage",
    "MergedScan",
    "Occupied",
    "Scan",
    "ScanExclusion",
    "bandwidth_correction_db",
    "demo_scan",
    "demo_text",
    "tv_channels",
]
