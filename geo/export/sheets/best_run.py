"""Which run of a water its sheet describes."""

from geo.records.survey import BodySurvey, EndClearance, Run

SURE = 0.95


def best_run(record: BodySurvey) -> Run | None:
    """Give the run that the sheet describes: of those with clear ends the longest, and of these the deepest for sure.

    Where no end is known to be clear the rest compete in the same way; without a usable run it is the longest run.
    """
    if not record.usable_runs:
        return record.longest_run
    return max(
        record.usable_runs,
        key=lambda one: (_clear(one), round(one.length_m), one.depth.depth_with_confidence_m(SURE) or 0.0),
    )


def _clear(run: Run) -> int:
    """Rank a run by its worse end: 2 clear, 1 unknown, 0 something stands above the surface."""
    return min(end_rank(end) for end in (run.start_end, run.end_end))


def end_rank(end: EndClearance) -> int:
    """Rank an end of a run: 2 clear, 1 unknown, 0 something stands above the surface."""
    if end.excess_m is not None and end.excess_m > 0.0:
        return 0
    return 1 if end.excess_m is None or end.unknown_heights else 2
