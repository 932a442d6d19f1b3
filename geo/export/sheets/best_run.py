"""Which run of a water its sheet describes."""

from geo.records.survey import BodySurvey, EndClearance, Run

SURE = 0.95


def best_run(record: BodySurvey) -> Run | None:
    """Give the run that the sheet describes: of those with clear ends the longest, and of these the deepest for sure.

    Where no end is known to be clear the rest compete in the same way; without a usable run it is the longest run.
    """
    if not record.usable_runs:
        return record.longest_run

    def worth(run: Run) -> tuple[int, int, float]:
        worse_end = min(end_rank(run.start_end), end_rank(run.end_end))
        return worse_end, round(run.length_m), run.depth.depth_with_confidence_m(SURE) or 0.0

    return max(record.usable_runs, key=worth)


def end_rank(end: EndClearance) -> int:
    """Rank an end of a run: 2 clear, 1 unknown, 0 something stands above the surface."""
    if end.excess_m is not None and end.excess_m > 0.0:
        return 0
    return 1 if end.excess_m is None or end.unknown_heights else 2
