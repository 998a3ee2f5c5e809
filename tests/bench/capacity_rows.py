"""How long a study of capacity takes: nine classes and their bands on a half-occupied UHF band.

    python tests/bench/capacity_rows.py [SECONDS ...]

Prints, for every time limit, what it really took, and how many carriers were found in all rows
together: what more time buys.
"""

from __future__ import annotations

import sys
import time

import sidon

STUDY = """
format = "sidon-study/1"
name = "Half-occupied UHF band (invented)"
place = { name = "Nowhere" }
[availability]
ranges = [[470, 608]]
tv_raster = { first_edge = 470, width = 6, first_number = 14, last_number = 36 }
occupied = [14, 16, 18, 20, 22, 24, 26, 28, 30, 32, 34, 36]
edge_guard = 0.5
[capacity]
ask = 16
in_ears = { stereo = 8 }
"""


def main() -> None:
    """Answer within each time limit and print a line."""
    study = sidon.Study.from_toml_text(STUDY)
    for limit in [float(text) for text in sys.argv[1:]] or [1.0, 5.0, 20.0]:
        began = time.perf_counter()
        found = study.capacity(seconds=limit, seed=1)
        took = time.perf_counter() - began
        rows = [row for row in found.rows if row.candidates]
        proven = sum(row.fits == row.upper_bound for row in rows)
        fits = sum(row.fits for row in rows)
        print(
            f"limit {limit:g} s: took {took:.2f} s, {len(rows)} rows with candidates, "
            f"{len(found.what_ifs)} what-ifs, {len(found.mixes)} mixes; "
            f"{fits} carriers in all rows, {proven} rows proven"
        )


if __name__ == "__main__":
    main()
