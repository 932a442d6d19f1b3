"""A run flown in one of its two directions."""

from dataclasses import dataclass

import shapely

from geo.records.survey import EndClearance, Run


@dataclass(frozen=True, eq=False)
class Pass:
    """A run flown in one of its two directions."""

    run: Run
    backward: bool

    @property
    def heading_grid_deg(self) -> float:
        """Heading flown [deg, grid]."""
        return (self.run.heading_grid_deg + 180.0 * self.backward) % 360.0

    @property
    def heading_true_deg(self) -> float:
        """Heading flown [deg, true]."""
        return (self.run.heading_true_deg + 180.0 * self.backward) % 360.0

    @property
    def line(self) -> shapely.LineString:
        """The run's line in the direction flown."""
        return shapely.reverse(self.run.line) if self.backward else self.run.line

    @property
    def approach_end(self) -> EndClearance:
        """What stands beyond the end where the aircraft comes down."""
        run = self.run
        return (run.end_approach or run.end_end) if self.backward else (run.start_approach or run.start_end)

    @property
    def climb_out_end(self) -> EndClearance:
        """What stands beyond the end where the aircraft climbs out heavy."""
        return self.run.start_end if self.backward else self.run.end_end
