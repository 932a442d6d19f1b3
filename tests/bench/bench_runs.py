"""Exact runs beside the plain script of shore-point pairs, growth with the vertices, real lakes, registers of dams."""

import resource
import subprocess
import sys
import time
from itertools import combinations
from pathlib import Path

import numpy as np
import shapely

from geo.survey.runs import longest_run, run_rose
from tests.real.shorelines import data_folder
from tests.real_lakes import real_lakes

_MOST_PAIRED = 1000  # vertices up to which every pair is tried: memory and patience
_ROSE_DEG = np.arange(0.0, 180.0, 10.0)
_START_UP = (
    "import time; t = time.perf_counter(); import shapely; from geo.survey.runs import longest_run, run_rose;"
    "a = time.perf_counter(); longest_run(shapely.box(0, 0, 3, 4)); run_rose(shapely.box(0, 0, 3, 4), [5.0], 1.0);"
    "print(a - t, time.perf_counter() - a)"
)


def main() -> None:
    """Print every figure with the plain way beside it."""
    _start_up()
    _pairs_beside()
    _growth()
    if data_folder() is not None:
        _real_lakes()
    _dams()
    print(f"peak memory of this process: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")


def rough_lake(vertices: int, seed: int = 1) -> shapely.Polygon:
    """Give a lake 12 km across whose shore is rough at every scale down to its vertices."""
    rng = np.random.default_rng(seed)
    waves = np.arange(1, vertices // 2)
    spectrum = np.zeros(vertices // 2 + 1, complex)
    spectrum[1 : vertices // 2] = waves**-1.3 * np.exp(2j * np.pi * rng.random(waves.size))
    shore = np.fft.irfft(spectrum, vertices)
    turns = 2.0 * np.pi * np.arange(vertices) / vertices
    radii = 5000.0 * (1.0 + 0.6 * shore / np.abs(shore).max())
    return shapely.Polygon(np.column_stack([radii * np.cos(turns), radii * np.sin(turns)]))


def dams(count: int, seed: int = 2) -> np.ndarray:
    """Give polygons of 20 to 60 vertices and about 1 ha."""
    rng = np.random.default_rng(seed)
    made = []
    for vertices in rng.integers(20, 61, count):
        turns = 2.0 * np.pi * (np.arange(vertices) + rng.uniform(0.0, 0.5, vertices)) / vertices
        radii = 60.0 * np.exp(rng.normal(0.0, 0.15, vertices))
        east, north = rng.uniform(0.0, 1e6, 2)
        ring = [east + rng.uniform(1.0, 3.0) * radii * np.cos(turns), north + radii * np.sin(turns)]
        made.append(shapely.Polygon(np.column_stack(ring)))
    return np.array(made)


def longest_pair(polygon: shapely.Polygon) -> float:
    """The plain script: the longest segment between two shore vertices that the polygon covers, longest first."""
    shapely.prepare(polygon)
    vertices = shapely.get_coordinates(polygon.exterior)[:-1]
    pairs = np.array(list(combinations(range(len(vertices)), 2)))
    lengths = np.hypot(*(vertices[pairs[:, 0]] - vertices[pairs[:, 1]]).T)
    best = 0.0
    for block in np.array_split(pairs, max(1, len(pairs) // 50_000)):
        lines = shapely.linestrings(vertices[block])
        best = max(best, float(shapely.length(lines[shapely.covers(polygon, lines)]).max(initial=0.0)))
    return min(best, float(lengths.max()))


def _cpu_s(work, repeats: int = 1) -> float:
    """CPU seconds of the quickest of some calls: other work on the machine only ever adds."""
    times = []
    for _ in range(repeats):
        start = time.process_time()
        work()
        times.append(time.process_time() - start)
    return min(times)


def _start_up() -> None:
    root = Path(__file__).parents[2]
    again = subprocess.run(
        [sys.executable, "-c", _START_UP], cwd=root, capture_output=True, text=True, check=True
    )
    imported, first = map(float, again.stdout.split())
    print(f"start-up, kernels compiled before: import {imported:.2f} s, first calls {first:.2f} s (elapsed)")


def _pairs_beside() -> None:
    polygon = rough_lake(1000)
    longest_run(polygon)
    ours_s, plain_s = _cpu_s(lambda: longest_run(polygon), 5), _cpu_s(lambda: longest_pair(polygon))
    ours_m, plain_m = longest_run(polygon).length_m, longest_pair(polygon)
    print(
        f"1,000 vertices: exact {1000 * ours_s:.1f} ms, pairs of vertices {1000 * plain_s:.0f} ms: ", end=""
    )
    print(
        f"{plain_s / ours_s:.0f} times; the pairs fall short by {max(0.0, 100 * (1 - plain_m / ours_m)):.2f} %"
    )


def _growth() -> None:
    print("vertices   longest ms   corridor 60 m ms   36 headings ms   pairs of vertices ms")
    rows = []
    for vertices in (50, 100, 200, 500, 1000, 2000, 5000, 10_000, 20_000, 50_000):
        polygon = rough_lake(vertices)
        longest = 1000 * _cpu_s(lambda p=polygon: longest_run(p), 3)
        corridor = 1000 * _cpu_s(lambda p=polygon: longest_run(p, 60.0), 3)
        rose = 1000 * _cpu_s(lambda p=polygon: run_rose(p, np.arange(0.0, 180.0, 5.0)), 3)
        pairs = 1000 * _cpu_s(lambda p=polygon: longest_pair(p)) if vertices <= _MOST_PAIRED else np.nan
        print(f"{vertices:8d} {longest:12.2f} {corridor:18.2f} {rose:16.2f} {pairs:22.1f}")
        rows.append((vertices, longest, corridor, rose, pairs))
    print(f"drawn: {_plot_growth(np.array(rows), Path('out/bench/run_growth.png'))}")


def _plot_growth(rows: np.ndarray, path: Path) -> Path:
    """Draw rows (n, 5) of vertices and CPU milliseconds against each other with the exponents fitted to them."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(8.0, 6.0), layout="constrained")
    FigureCanvasAgg(figure)
    axes = figure.add_subplot()
    curves = (
        ("longest run", "#0072B2", "o"),
        ("longest run in a corridor of 60 m", "#009E73", "s"),
        ("longest run for each of 36 headings", "#E69F00", "^"),
        ("plain script: every pair of vertices", "#D55E00", "x"),
    )
    for (label, colour, mark), cpu_ms in zip(curves, rows[:, 1:].T, strict=True):
        # The upper part tells the growth: below 500 vertices the fixed cost of a call rules; pairs have no other part.
        part = np.isfinite(cpu_ms) & ((rows[:, 0] >= 500.0) | (mark == "x"))
        power, scale = np.polyfit(np.log(rows[part, 0]), np.log(cpu_ms[part]), 1)
        axes.plot(rows[:, 0], cpu_ms, mark, color=colour, label=f"{label}: CPU time ~ n^{power:.2f}")
        axes.plot(rows[part, 0], np.exp(scale) * rows[part, 0] ** power, "-", color=colour, linewidth=1.2)
    axes.set_xscale("log")
    axes.set_yscale("log")
    axes.set_xlabel("vertices n of a lake with a rough shore")
    axes.set_ylabel("CPU time [ms], quickest of 3 calls")
    axes.grid(which="both", color="#DDDDDD", linewidth=0.6)
    figure.legend(loc="outside upper center", ncols=2)
    path.parent.mkdir(parents=True, exist_ok=True)
    figure.savefig(path, dpi=120)
    return path


def _real_lakes() -> None:
    lakes = [lake.in_metres() for lake in real_lakes("f")]
    vertices = shapely.get_num_coordinates(lakes)
    near = lakes[int(np.argmin(np.abs(vertices - 14_000)))]
    print(
        f"real lake of {shapely.get_num_coordinates(near):,} vertices: {_cpu_s(lambda: longest_run(near)):.2f} s"
    )
    near = lakes[int(np.argmin(np.abs(vertices - 1000)))]
    ours_s, plain_s = _cpu_s(lambda: longest_run(near), 5), _cpu_s(lambda: longest_pair(near))
    short = 1.0 - longest_pair(near) / longest_run(near).length_m
    print(
        f"real lake of {shapely.get_num_coordinates(near):,} vertices: exact {1000 * ours_s:.1f} ms, ", end=""
    )
    print(f"pairs {1000 * plain_s:.0f} ms: {plain_s / ours_s:.0f} times; pairs short by {100 * short:.2f} %")
    print(f"{len(lakes):,} real lakes, {vertices.sum():,} vertices, CPU seconds:")
    print(f"  longest run           {_cpu_s(lambda: [longest_run(lake) for lake in lakes]):7.1f}")
    print(f"  rose every 10 deg     {_cpu_s(lambda: [run_rose(lake, _ROSE_DEG) for lake in lakes]):7.1f}")
    print(f"  longest in 60 m       {_cpu_s(lambda: [longest_run(lake, 60.0) for lake in lakes]):7.1f}")
    print(
        f"  rose in 60 m          {_cpu_s(lambda: [run_rose(lake, _ROSE_DEG, 60.0) for lake in lakes]):7.1f}"
    )


def _dams() -> None:
    bodies = dams(1000)

    def surveyed(some: np.ndarray, width: float) -> None:
        for body in some:
            longest_run(body, width)
            run_rose(body, _ROSE_DEG, width)

    ours, corridor = (
        1000 / _cpu_s(lambda: surveyed(bodies, 0.0)),
        1000 / _cpu_s(lambda: surveyed(bodies, 60.0)),
    )
    plain = 20 / _cpu_s(lambda: [longest_pair(body) for body in bodies[:20]])
    print(f"dams of 20 to 60 vertices, longest run and 18 headings: {ours:.0f} bodies a second; ", end="")
    print(f"in a corridor of 60 m {corridor:.0f}; pairs without headings {plain:.0f}")


if __name__ == "__main__":
    main()
