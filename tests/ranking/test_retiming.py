"""Round trips in another wind, by hand."""

from dataclasses import replace

import numpy as np
import pytest
from example_candidates import assessment, candidate, flat_leg, table_profile

from geo.ranking.extras.retiming import Retimer, WindLimits, times_s
from geo.ranking.rank import rank

# Sums of any of these differ: what is left out shows in the answer.
LOADED_CLIMB_S, LOADED_DESCENT_S, EMPTY_CLIMB_S, EMPTY_DESCENT_S = 3.0, 7.0, 13.0, 29.0


def leg(tas_ms, climb_s, descent_s):
    flat = flat_leg(5_000.0, tas_ms, climb_extra_s=climb_s)
    return replace(flat, descent_extra_s=descent_s, time_s=flat.time_s + descent_s)


def test_climb_and_descent_of_both_legs_stay_in_every_trip():
    """45 s fill, 30 + 60 s manoeuvres, 10 s drop, 52 s of climbs and descents; 5 km east and back at 50 m/s.

    In 10 m/s from west the flight takes 5000/60 + 5000/40 s, in calm 200 s.
    """
    legs = leg(50.0, LOADED_CLIMB_S, LOADED_DESCENT_S), leg(50.0, EMPTY_CLIMB_S, EMPTY_DESCENT_S)
    back = replace(legs[1], segments=(replace(legs[1].segments[0], track_true_deg=270.0),))
    one = candidate(assessment("A", litres=9_000.0), 5_000.0, loaded_leg=legs[0], empty_leg=back)
    (source,), _ = rank([one], table_profile())
    rates = Retimer([source], [WindLimits(100.0)], table_profile()).rates(
        np.array([0.0, 270.0]), np.array([0.0, 10.0])
    )
    trips_s = 145.0 + 52.0 + np.array([200.0, 5_000.0 / 60.0 + 5_000.0 / 40.0])
    assert rates[:, 0] == pytest.approx(3_600.0 * 9_000.0 / trips_s, rel=1e-12)
    assert rates[0, 0] == pytest.approx(source.cycle.litres_per_hour, rel=1e-12)


def test_times_are_those_of_the_vectors():
    """Independent: t is the least positive root of |d / t - w| = V, a quadratic in 1 / t; else it is never."""
    rng = np.random.default_rng(1)
    pieces = rng.uniform(1e3, 3e4, 40), rng.uniform(0, 360, 40), rng.uniform(20, 70, 40)
    winds = rng.uniform(0, 360, 60), rng.uniform(0, 60, 60)
    found = times_s(*pieces, *winds)
    assert np.isinf(found).any() and np.isfinite(found).any()
    for (n, k), taken_s in np.ndenumerate(found):
        (distance_m, track_deg, tas_ms), (from_deg, wind_ms) = (
            (column[k] for column in pieces),
            (w[n] for w in winds),
        )
        behind_ms = -wind_ms * np.cos(np.radians(from_deg - track_deg))
        roots = np.roots([1.0, -2.0 * behind_ms, wind_ms**2 - tas_ms**2])
        speeds_ms = [root.real for root in roots if abs(root.imag) < 1e-12 and root.real > 0.0]
        expected = distance_m / max(speeds_ms) if speeds_ms else np.inf
        assert taken_s == pytest.approx(expected, rel=1e-9)
