"""How often a run that is stated deep enough is deep enough, kind of bed by kind of bed; `main()` prints the table.

The kinds and the surveys are those of tests/survey/promise_study.py: few soundings of a survey that says nothing of its
search, and a full search (IHO S-44 special order). Columns: runs stated at 0.95 and at 0.9 that hold, the same of the
best of 18 runs, how far the worst bin of statements stands above what held, the share of deep runs that get 0.95.
"""

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "survey"))
BEDS, SEED, FEWEST = range(300, 312), 90_210, 40
BARS = (
    "bars: 0.95 holds 93 %, 0.9 holds 88 %, above the diagonal at most 0.05; smooth, full search: useful 60 %"
)


def cell(share: tuple[float, int]) -> str:
    """A share with its number of runs, as text."""
    held, number = share
    return "none" if number == 0 else f"{held:.0%} of {number:,}"


def promise() -> list[str]:
    """Give the table: one line for each kind of bed and kind of survey."""
    from kinds_of_bed import MAKERS
    from promise_study import promises

    lines = [BARS]
    for full, survey in (
        (False, "15, 60, 150 soundings, search unknown"),
        (True, "full search, special order"),
    ):
        lines.append(f"{survey}:")
        for make in MAKERS:
            found = promises(make, BEDS, SEED, full=full)
            held = f"deep {found.held.mean():.0%} of {len(found.held):,}, stated {found.stated.mean():.2f} on average"
            at = ", ".join(f"{least:g}: {cell(found.share(least))}" for least in (0.95, 0.9))
            best = f"best of 18 at 0.95: {cell(found.share(0.95, best=True))}"
            above, useful = found.above_diagonal(FEWEST), found.useful()
            lines.append(
                f"  {make.__name__.replace('_', ' ')}: {held}; {at}; {best}; above {above:+.2f}; useful {useful:.0%}"
            )
    return lines


def volumes() -> list[str]:
    """Give how often the 90 % interval of the mean depth holds, by survey."""
    from kinds_of_bed import WIDE, inside, places
    from test_depth_promise import two_tracks

    from geo.survey.depth import depth_field

    held: dict[str, list[bool]] = {}
    for number in range(6):
        for make in WIDE:
            rng = np.random.default_rng([SEED, number, *make.__name__.encode()])
            bed = make(rng)
            truth = float(bed.bed(*inside(bed.polygon, 4000, rng)).mean())
            surveys = {f"{n} at random": places(bed, n, "random", rng) for n in (15, 60, 150)}
            surveys["60 on two tracks"] = two_tracks(bed.polygon, 60, rng)
            for name, (x, y) in surveys.items():
                depth = bed.bed(x, y) + rng.normal(0.0, 0.1, len(x))
                field = depth_field(bed.polygon, easting_m=x, northing_m=y, depth_m=depth, sd_m=0.1)
                mean, sd, wet = field.mean_depth()
                held.setdefault(name, []).append(abs(mean * wet - truth) <= 1.645 * sd)
    return [
        f"mean depth, {name}: the 90 % interval holds {np.mean(each):.0%} of {len(each)}"
        for name, each in held.items()
    ]


def main() -> None:
    """Print every figure."""
    for part in (promise, volumes):
        for line in part():
            print(line, flush=True)


if __name__ == "__main__":
    main()
