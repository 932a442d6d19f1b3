"""Figures of the depth model: calibration on bodies that nothing was learned from, accuracy and time; `main()` prints.

Bodies: valleys of a real terrain sample flooded to a level, as in tests/survey/depth_study.py. A kriging library is
compared only where it is installed; else that is said.
"""

import importlib.util
import sys
import time
from pathlib import Path

import numpy as np

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent / "survey"))


def timings() -> list[str]:
    """Give the time of a fit, of a corridor's joint probability, and of many small bodies."""
    import shapely
    from depth_shapes import EAST, NORTH, bowl, circle, sounded

    from geo.survey.depth import depth_field, run_depth_probability

    tarn = circle()
    line = shapely.LineString([(EAST - 250.0, NORTH), (EAST + 250.0, NORTH + 40.0)])
    fits, corridors = [], []
    for seed in range(12):
        points = sounded(tarn, bowl, 60, seed=seed + 1)
        start = time.process_time()
        field = depth_field(tarn, points)
        fits.append(time.process_time() - start)
        start = time.process_time()
        run_depth_probability(field, line, 20.0, 2.0)
        corridors.append(time.process_time() - start)
    count = 200
    start = time.process_time()
    for seed in range(count):
        field = depth_field(tarn, sounded(tarn, bowl, 5 + seed % 26, seed=seed + 1))
        run_depth_probability(field, line, 20.0, 2.0)
    small = (time.process_time() - start) / count
    return [
        f"fit of 60 soundings: {1000 * np.median(fits):.1f} ms (bar 30)",
        f"joint probability of a corridor after the fit: {1000 * np.median(corridors):.1f} ms (bar 5)",
        f"10,000 small bodies of 5 to 30 soundings, from {count}: {10_000 * small:.0f} s (bar 60)",
    ]


def accuracy() -> list[str]:
    """Give the root mean square error at places nobody sounded, against a kriging library where there is one."""
    if importlib.util.find_spec("pykrige") is None:
        return [
            "the kriging library pykrige is not installed: not compared (bar: no worse, and 5 times faster)"
        ]
    from flooded_valleys import reservoirs
    from test_depth_reference import errors_of_both

    lines = []
    for count in (15, 60, 150):
        rng = np.random.default_rng(count)
        pairs = np.array([errors_of_both(body, count, rng) for body in reservoirs()[:12]])
        ratio = float(np.exp(np.log(pairs[:, 0] / pairs[:, 1]).mean()))
        lines.append(f"{count} soundings: error {ratio:.2f} times that of ordinary kriging (bar 1)")
    return lines


def calibration() -> list[str]:
    """Give what intervals and joint probabilities hold on terrain that they were not learned from: the small set."""
    from depth_study import proof
    from flooded_valleys import reservoirs

    found = proof(reservoirs()[:24], ((15, 60, 150), (15, 60)), 3, 41)
    lines = []
    for count in (15, 60, 150):
        half, most = found.coverage(count, "spread")
        lines.append(
            f"{count} soundings: 50 % intervals hold {half:.1%} (bar 46-54), 90 % {most:.1%} (bar 87-93)"
        )
    run = found.asked.run > 0
    trusted = run & (found.stated >= 0.9)
    lines.append(
        f"runs stated at 0.9 or more: {found.asked.held[trusted].mean():.1%} of {trusted.sum()} deep enough"
    )
    worst = 0.0
    for stated, observed, number in found.reliability(True, np.arange(0.05, 0.96, 0.1)):
        worst = max(worst, abs(stated - observed))
        lines.append(f"  stated {stated:.2f}, true {observed:.2f} of {number}")
    return [*lines, f"furthest from the diagonal {worst:.2f} (bar 0.07, on the whole set)"]


def main() -> None:
    """Print every figure."""
    for line in [*timings(), *accuracy(), *calibration()]:
        print(line)


if __name__ == "__main__":
    main()
