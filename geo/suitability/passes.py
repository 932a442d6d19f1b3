"""A run flown in one of its two directions."""

from dataclasses import dataclass

import shapely

from geo.records.suitability import RunBend
from geo.records.survey import EndClearance, Run


@dataclass(frozen=True, eq=False)
class Pass:
    """A run flown in one of its two directions."""

    run: Run
    backward: bool

    @property
    def heading_grid_deg(self) -> float:
        """Heading at the touch-down [deg, grid]."""
        return self._flown(self.run.heading_grid_deg)

    @property
    def heading_true_deg(self) -> float:
        """Heading at the touch-down [deg, true]."""
        return self._flown(self.run.heading_true_deg)

    def _flown(self, drawn_deg: float) -> float:
        """Give the heading at the touch-down from the one at the run's start as drawn."""
        return (drawn_deg + (180.0 + self.run.end_turn_deg) * self.backward) % 360.0

    @property
    def sweeps_grid_deg(self) -> tuple[tuple[float, float], ...]:
        """Each part's heading at its start and its turn [deg, grid], in the order flown; one part if straight."""
        parts = [(part.heading_grid_deg, part.turn_deg) for part in self.run.parts]
        parts = parts or [(self.run.heading_grid_deg, 0.0)]
        if self.backward:
            parts = [((start + turn + 180.0) % 360.0, -turn) for start, turn in reversed(parts)]
        return tuple(parts)

    @property
    def bend(self) -> RunBend | None:
        """How the run turns as it is flown; None where it is straight."""
        run = self.run
        if run.least_radius_m is None:
            return None
        north_deg = run.heading_true_deg - run.heading_grid_deg
        sweeps = tuple(((start + north_deg) % 360.0, turn) for start, turn in self.sweeps_grid_deg)
        return RunBend(run.least_radius_m, run.turned_deg, sum(sweeps[-1]) % 360.0, sweeps)

    @property
    def line(self) -> shapely.LineString:
        """The run's line in the direction flown."""
        return shapely.reverse(self.run.line) if self.backward else self.run.line

    @property
    def approach_end(self) -> EndClearance:
        """What stands beyond the end where the aircraft comes down."""
        run = self.run
        steep, same = (
            (run.end_approach, run.end_end) if self.backward else (run.start_approach, run.start_end)
        )
        return steep if steep is not None else same

    @property
    def climb_out_end(self) -> EndClearance:
        """What stands beyond the end where the aircraft climbs out heavy."""
        return self.run.start_end if self.backward else self.run.end_end
