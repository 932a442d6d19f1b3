"""Figures of the depth model: calibration on terrain that nothing was learned from, accuracy and time; `main()` prints.

Bodies: valleys of a real terrain sample flooded to a level, as in tests/survey/depth_study.py. Also drawn: the
reliability diagram, out/bench/depth_reliability.png. A kriging library is compared only where it is installed.
"""

import importlib.util
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import shapely

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent / "survey"))
PICTURE = HERE.parents[1] / "out" / "bench" / "depth_reliability.png"
COUNTS = (15, 60, 150)
EDGES = np.arange(0.05, 0.96, 0.1)
SMALL_BODIES, LARGE_SOUNDINGS = 10_000, 100_000


def quickest_s(work: Callable[[], object], times: int = 5) -> float:
    """CPU seconds of the quickest of some calls: other work on the machine only ever adds."""
    taken = []
    for _ in range(times):
        start = time.process_time()
        work()
        taken.append(time.process_time() - start)
    return min(taken)


def timings() -> list[str]:
    """Give the time of a fit of 60 soundings and of a corridor's joint probability, on 12 valleys."""
    from flooded_valleys import random_run, reservoirs
    from test_depth_reference import split

    from geo.survey.depth import depth_field, run_depth_probability

    fits, joints = [], []
    rng = np.random.default_rng(60)
    for body in reservoirs()[:12]:
        s, line = split(body, 60, rng), random_run(body.polygon, rng)
        made = []

        def fit(s=s, made=made):
            made[:] = [depth_field(s.body.polygon, easting_m=s.x, northing_m=s.y, depth_m=s.depth, sd_m=s.sd)]

        fits.append(quickest_s(fit))
        if line is not None:
            joints.append(
                quickest_s(lambda made=made, line=line: run_depth_probability(made[0], line, 20.0, 2.0))
            )
    return [
        f"fit of 60 soundings: {1000 * np.mean(fits):.1f} ms (bar 30)",
        f"joint probability of a corridor after the fit: {1000 * np.mean(joints):.1f} ms (bar 5)",
    ]


def small_bodies() -> list[str]:
    """Give the time of many small bodies, fit and joint probability of a run in each; every one is really done."""
    from depth_shapes import flat_with_banks, inside, record

    from geo.survey.depth import depth_field, run_depth_probability
    from tests.bench.bench_runs import dams

    rng, made = np.random.default_rng(5), []
    for number, dam in enumerate(dams(SMALL_BODIES)):
        x, y = inside(dam, number % 31, rng)
        depth = flat_with_banks(dam, 4.0, 8.0)(x, y) + rng.normal(0.0, 0.1, len(x))
        middle = dam.centroid
        line = shapely.LineString([(middle.x - 25.0, middle.y), (middle.x + 25.0, middle.y)])
        made.append((dam, record(x, y, depth), line))
    start, known = time.process_time(), 0
    for dam, soundings, line in made:
        known += run_depth_probability(depth_field(dam, soundings), line, 10.0, 1.0) is not None
    spent = time.process_time() - start
    return [
        f"{SMALL_BODIES:,} small bodies of 0 to 30 soundings: {spent:.0f} s (bar 60); {known:,} of them had soundings "
        "enough for a probability"
    ]


def large_body() -> None:
    """Print time and memory of one body with very many soundings: run in a process of its own."""
    import resource

    from depth_shapes import flat_with_banks, sounded

    from geo.survey.depth import depth_field, run_depth_probability
    from tests.bench.bench_runs import rough_lake

    lake = rough_lake(4000)
    soundings = sounded(lake, flat_with_banks(lake, 12.0, 150.0), LARGE_SOUNDINGS)
    line = shapely.LineString([(-500.0, 0.0), (500.0, 0.0)])
    start = time.process_time()
    field = depth_field(lake, soundings)
    assert np.isfinite(field.mean.values).any() and np.isfinite(field.sd.values).any()
    run_depth_probability(field, line, 20.0, 2.0)
    spent = time.process_time() - start
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024**2
    print(
        f"{LARGE_SOUNDINGS:,} soundings in one body of 4,000 vertices, with grid and run: {spent:.1f} s (bar 60), "
        f"{memory:.2f} GB (bar 2)"
    )


def large_body_apart() -> list[str]:
    """Give the figures of large_body() from a process that did nothing else."""
    code = "from tests.bench.bench_depth import large_body; large_body()"
    done = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    return [done.stdout.strip()]


def beside_kriging() -> list[str]:
    """Give error and time beside a kriging library: mean and sd at the same 300 places, fit included, same split."""
    if importlib.util.find_spec("pykrige") is None:
        return [
            "the kriging library pykrige is not installed: not compared (bar: no worse, and 5 times faster)"
        ]
    from flooded_valleys import reservoirs
    from test_depth_reference import PLACES, REFERENCES, by_field, split

    lines = [
        f"mean and sd at {PLACES} places, learning included. The bar (no worse, 5 times faster) is for the same answer "
        "from soundings and shore: the last of the three"
    ]
    for count in COUNTS:
        rng = np.random.default_rng(count)
        splits = [split(body, count, rng) for body in reservoirs()[::2]]
        ours = np.array([s.error(by_field(s)) for s in splits])
        own_s = float(np.mean([quickest_s(lambda s=s: by_field(s), 3) for s in splits]))
        lines.append(f"{count} soundings: field {1000 * own_s:.1f} ms")
        for name, way in REFERENCES.items():
            ratio = float(np.exp(np.log(ours / [s.error(way(s)) for s in splits]).mean()))
            spent = float(np.mean([quickest_s(lambda s=s, way=way: way(s), 2) for s in splits]))
            lines.append(
                f"  {name}: {1000 * spent:.1f} ms, {spent / own_s:.1f} times as long; "
                f"the field's error is {ratio:.2f} of its"
            )
    return lines


def calibration() -> list[str]:
    """Give what intervals and joint probabilities hold on parts of the terrain that they were not learned from."""
    from depth_study import proof, unsounded_bodies, unsounded_coverage
    from flooded_valleys import reservoirs

    bodies = reservoirs()
    found = proof(bodies, (COUNTS, (10, 15, 30, 60, 150)), 3, 42)
    lines = [f"{len(bodies)} bodies, each third of the terrain judged by what the other two taught"]
    for count in COUNTS:
        half, most = found.coverage(count, "spread")
        lines.append(
            f"{count} soundings: 50 % intervals hold {half:.1%} (bar 46-54), 90 % {most:.1%} (bar 87-93)"
        )
    run = found.asked.run > 0
    trusted = run & (found.stated >= 0.9)
    lines.append(
        f"runs stated at 0.9 or more: {found.asked.held[trusted].mean():.1%} of {trusted.sum():,} deep enough (bar 90)"
    )
    rows = found.reliability(True, EDGES)
    worst = max(abs(stated - observed) for stated, observed, _number in rows)
    lines += [f"  stated {stated:.2f}, true {observed:.2f} of {number}" for stated, observed, number in rows]
    lines.append(
        f"{run.sum() // 2:,} corridors, two depths asked of each: furthest from the diagonal {worst:.3f} (bar 0.07)"
    )
    draw_reliability(rows, PICTURE)
    share = unsounded_coverage(unsounded_bodies())
    return [
        *lines,
        f"greatest depth of bodies that nobody sounded: the 90 % range holds {share:.1%} (bar 87-93)",
        f"drawn: {PICTURE.relative_to(PICTURE.parents[2])}",
    ]


def draw_reliability(rows: list[tuple[float, float, int]], path: Path) -> None:
    """Draw the reliability diagram: what was stated for runs against what was true, the bar of 0.07 as a band."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(6.4, 6.0), layout="constrained")
    axes = figure.add_subplot()
    ends = np.array([0.0, 1.0])
    axes.fill_between(ends, ends - 0.07, ends + 0.07, color="#D9D9D9", label="within 0.07")
    axes.plot(ends, ends, color="#555555", linewidth=1.0, label="stated = true")
    stated, observed, number = (np.array(column) for column in zip(*rows, strict=True))
    # Binomial one sigma; the questions of one body are not independent, so the true scatter is wider.
    scatter = np.sqrt(observed * (1.0 - observed) / number)
    axes.errorbar(stated, observed, scatter, fmt="o-", color="#0072B2", capsize=3, label="runs (one sigma)")
    for x, y, count in zip(stated, observed, number, strict=True):
        axes.annotate(f"{count}", (x, y), (7, -12), textcoords="offset points", fontsize=9, color="#333333")
    axes.set(xlim=(0, 1), ylim=(0, 1), aspect="equal", title="Runs on terrain that nothing was learned from")
    axes.set(xlabel="probability stated: deep enough everywhere", ylabel="share that was deep enough")
    axes.legend(loc="upper left", frameon=False)
    path.parent.mkdir(parents=True, exist_ok=True)
    figure.savefig(path, dpi=110)


def main() -> None:
    """Print every figure."""
    for part in (timings, small_bodies, large_body_apart, beside_kriging, calibration):
        for line in part():
            print(line, flush=True)


if __name__ == "__main__":
    main()
