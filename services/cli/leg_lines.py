"""One leg as lines of the working: pieces, climb, descent, turns and circles."""

from rich.markup import escape

from geo.base.positions import true_and_magnetic
from geo.records.flight import Leg

# So many pieces of a leg are printed; in a changing wind there are more, which the JSON document lists.
MOST_PIECES = 4


def _wind_words(leg: Leg) -> str:
    """The wind of the pieces: one, or the least and the greatest where it changes along the leg."""
    winds = [(s.wind_ms, s.wind_from_true_deg) for s in leg.segments if s.wind_ms is not None]
    if not winds:
        return ""
    (low, low_from), (high, high_from) = min(winds), max(winds)
    if low == high:
        return f"; wind from {low_from:03.0f}°T/{low:.1f} m/s"
    return f"; wind from {low_from:03.0f}°T/{low:.1f} m/s to {high_from:03.0f}°T/{high:.1f} m/s"


def leg_lines(word: str, leg: Leg, variation_deg: float | None) -> list[str]:
    """Give the lines of a leg, so that its time can be redone by hand."""
    pieces = " + ".join(
        f"{s.distance_m:,.0f} m / {s.ground_speed_ms:.2f} m/s "
        f"(track {true_and_magnetic(s.track_true_deg, variation_deg)}, airspeed {s.true_airspeed_ms:.1f} m/s)"
        for s in leg.segments
    )
    if len(leg.segments) > MOST_PIECES:
        pieces = f"{len(leg.segments)} pieces of {leg.distance_m:,.0f} m, {sum(s.time_s for s in leg.segments):.1f} s"
    extra = f" + climb {leg.climb_extra_s:.1f} s + descent {leg.descent_extra_s:.1f} s"
    extra += f" + turns {leg.turns_s:.1f} s" if leg.turns_s > 0.0 else ""
    lines = [f"  {word}: {pieces}{extra} = {leg.time_s:.1f} s{_wind_words(leg)}; {escape(leg.highest_what)}"]
    return lines + _climb_lines(leg)


def _climb_lines(leg: Leg) -> list[str]:
    """How the extra times of climb and descent come about."""
    lines = []
    if leg.climb is not None:
        up = leg.climb
        wait = f", {up.level_s:.1f} s of them level while it speeds up" if up.level_s > 0.0 else ""
        if up.wait_at_m is not None and up.wait_height_m is not None:
            wait += f", {up.waited_s:.1f} s of them beside the way, for the {up.wait_height_m:,.0f} m that are needed "
            wait += f"{up.wait_at_m:,.0f} m from the start"
        lines.append(
            f"    climb {up.from_m:,.0f} to {up.to_m:,.0f} m in {up.duration_s:.1f} s at "
            f"{up.airspeed_ms:.1f} m/s airspeed{wait}, against {up.cruise_s:.1f} s of cruise over the same "
            f"{up.covered_m:,.0f} m: {up.extra_s:.1f} s more"
        )
    if leg.descent is not None and leg.descent.extra_s > 0.0:
        down = leg.descent
        lines.append(
            f"    descends {down.from_m:,.0f} to {down.to_m:,.0f} m, starting {down.at_m:,.0f} m along the leg, at "
            f"{down.rate_ms:.1f} m/s: {down.sink_s:.1f} s, against {down.cruise_s:.1f} s of cruise: "
            f"{down.extra_s:.1f} s more"
        )
    for one in leg.circling:
        lines.append(
            f"    circles {one.at_m:,.0f} m from the start, {one.from_m:,.0f} to {one.to_m:,.0f} m: "
            f"{one.turns:.1f} turns of {one.radius_m:,.0f} m radius, {one.time_s:.1f} s"
        )
    if leg.circling:
        lines.append("    the climb or descent sets the time of this leg: another wind changes it little")
    kept = [
        f"{part.name} {part.least_ground_m:,.0f} m" for part in leg.parts if part.least_ground_m is not None
    ]
    if kept:
        lines.append(f"    least height above ground in the width that counts: {', '.join(kept)}")
    return lines
