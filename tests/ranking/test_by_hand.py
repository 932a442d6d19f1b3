"""The printed breakdown of one source redone from published formulas, the profile's file and the printed way alone.

Nothing of the program is used but the document and the files: ISO 2533 (standard atmosphere), the wind triangle
(Pythagoras), geodesics (Karney 2013, J. Geodesy 87:43-55, through PROJ), the low-precision sun of the Astronomical
Almanac (section C, formulas for the sun's coordinates to 0.01 degrees), and sums.
"""

import json
import math
import tomllib
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from pyproj import Geod

from geo import pipeline
from geo.ingest.layers.aircraft import load_profile
from geo.records.document import document
from geo.records.extras import ExtrasRequest
from services.core import quantities

ROOT = Path(__file__).resolve().parents[2]
WIND_FROM_DEG, WIND_MS = 300.0, 18.0 * 1852.0 / 3600.0
# Filled from the hover, by a load that hot air limits.
WATER = "Ash Farm Dam"
ASKED_AT = datetime(2026, 2, 1, 1, 0, tzinfo=UTC)  # an afternoon at 128 W
SI = {
    "L": 1.0,
    "kg": 1.0,
    "s": 1.0,
    "m": 1.0,
    "kt": 1852.0 / 3600.0,
    "km/h": 1.0 / 3.6,
    "ft/min": 0.3048 / 60.0,
    "ft": 0.3048,
    "min": 60.0,
    "US gal": 3.785411784,
    "US gal/h": 3.785411784,
    "L/h": 1.0,
    "kg/L": 1.0,
}


@pytest.fixture(scope="module")
def told(demo_region, demo_survey):
    # One water is enough, and quick: what is printed of it never hangs on the others.
    region = replace(
        demo_region, bodies=tuple(one for one in demo_region.bodies if one.name == WATER), stations=()
    )
    survey = replace(demo_survey, bodies=tuple(one for one in demo_survey.bodies if one.name == WATER))
    weather = quantities.weather("300/18kt", "34C", "1009", "0m", "2026-01-31")
    asked = ExtrasRequest(at=ASKED_AT)
    ranking, further = pipeline.answer(
        region,
        survey,
        region.fires[0],
        load_profile("heavy_tank_helicopter"),
        weather,
        asked=asked,
    )
    return json.loads(
        json.dumps(document(ranking, region.frame) | {"daylight": document(further.daylight, region.frame)})
    )


@pytest.fixture(scope="module")
def source(told):
    (one,) = told["sources"]
    return one


@pytest.fixture(scope="module")
def profile():
    """The profile's file with every value in SI, by section and name."""
    read = tomllib.loads((ROOT / "geo" / "profiles" / "heavy_tank_helicopter.toml").read_text())
    return {
        name: {key: np.array(row.get("value", row.get("values"))) * SI[row["unit"]] for key, row in section.items()
               if row.get("unit") in SI}
        for name, section in read.items() if isinstance(section, dict)
    }  # fmt: skip


def air(height_m):
    """Temperature [degC], pressure and density altitude [m] at a height: 34 degC at 0 m, QNH 1009 hPa."""
    celsius = 34.0 - 0.0065 * height_m
    pressure_altitude = height_m + 288.15 / 0.0065 * (
        1.0 - (1009.0 / 1013.25) ** (0.0065 * 287.05287 / 9.80665)
    )
    pressure = 101325.0 * (1.0 - 0.0065 * pressure_altitude / 288.15) ** (9.80665 / (0.0065 * 287.05287))
    density = pressure / (287.05287 * (celsius + 273.15))
    share = (density / 1.225) ** (1.0 / (9.80665 / (0.0065 * 287.05287) - 1.0))
    return celsius, pressure_altitude, 288.15 / 0.0065 * (1.0 - share)


def test_the_load_is_what_the_hot_air_lets_it_lift(source, profile):
    celsius, pressure_altitude, density_altitude = air(source["conditions"]["elevation_m"])
    assert source["conditions"]["temperature_c"] == pytest.approx(celsius, abs=1e-4)
    assert source["conditions"]["pressure_altitude_m"] == pytest.approx(pressure_altitude, abs=0.05)
    assert source["conditions"]["density_altitude_m"] == pytest.approx(density_altitude, abs=0.05)
    weight, table = profile["weight"], profile["hover_weight"]
    lifted_kg = np.interp(density_altitude, table["density_altitude"], table["weight"])
    # Fuel when the first fill begins: a full tank less that of the flight out.
    fuel_l = profile["fuel"]["capacity"] - profile["fuel"]["burn"] * source["fuel"]["transit_to_s"] / 3600.0
    aboard_kg = weight["empty"] + weight["crew"] + weight["equipment"] + fuel_l * weight["fuel_density"]
    # Fresh water at 15 degC: 0.999103 kg/L (density of pure water by the standard tables, printed 999.103 kg/m3).
    litres = min(
        profile["load"]["tank"],
        profile["load"]["max_load"] / 0.999103,
        (lifted_kg - aboard_kg) / 0.999103,
        (weight["gross"] - aboard_kg) / 0.999103,
    )
    assert litres < profile["load"]["tank"] and source["assessment"]["litres_ruled_by"] == "hover payload"
    assert source["cycle"]["litres"] == pytest.approx(litres, abs=0.1)
    assert source["cycle"]["fill_s"] == pytest.approx(
        profile["hover_pump"]["fill_time"] * litres / profile["load"]["tank"], abs=1e-3
    )


def test_the_shift_flown_load_by_load_from_the_printed_figures_alone(told, source):
    """Weights, power, fuel, water and times of one tank of fuel, from the document and nothing else.

    A plain simulation: the aircraft leaves the base full, flies out, fills by the minute what it may lift with the fuel
    that is left, drops, comes back, and goes home while the reserve is whole; then it refuels and does it again for six
    hours. It agrees with the printed plan load by load, and over the hours within 2 %.
    """
    aircraft, air, plan = told["profile"], source["conditions"], source["fuel"]
    weights, cycle = aircraft["weights"], source["cycle"]
    heights, kilograms = zip(*aircraft["hover_weight"], strict=True)
    lifted_kg = min(np.interp(air["density_altitude_m"], heights, kilograms), weights["gross_kg"])
    operating_kg = weights["empty_kg"] + weights["crew_kg"] + weights["equipment_kg"]
    burn_l_s = aircraft["fuel_burn_l_h"] / 3600.0
    held_l = source["assessment"]["loads_available"] * source["assessment"]["litres"]
    away_s = cycle["manoeuvre_source_s"] + cycle["loaded_leg"]["time_s"] + cycle["drop_s"]
    back_s = cycle["manoeuvre_fire_s"] + cycle["empty_leg"]["time_s"]
    at_s, delivered_l, drops, table = 0.0, 0.0, [], []
    while at_s < 6.0 * 3600.0:
        left_s, fuel_l, number = at_s, aircraft["fuel_l"], 0
        at_s += plan["transit_to_s"]
        while True:
            fuel_l = aircraft["fuel_l"] - burn_l_s * (at_s - left_s)
            bears_kg = lifted_kg - operating_kg - fuel_l * weights["fuel_kg_l"]
            litres = min(
                aircraft["tank_l"], min(bears_kg, aircraft["max_load_kg"]) / air["water_density_kg_l"]
            )
            trip_s = aircraft["hover_pump"]["fill_time_s"] * litres / aircraft["tank_l"] + away_s + back_s
            home_l = fuel_l - burn_l_s * (trip_s + plan["transit_from_s"])
            if home_l < burn_l_s * aircraft["reserve_s"] or delivered_l + litres > held_l:
                break
            number, delivered_l = number + 1, delivered_l + litres
            drops.append((at_s + trip_s - back_s, litres))
            if left_s == 0.0:
                table.append((number, fuel_l, litres, at_s + trip_s - back_s))
            at_s += trip_s
        at_s += plan["transit_from_s"] + plan["refuel_turn_s"]
        assert number > 0
    assert len(table) == plan["loads"] == len(plan["table"]) > 3
    for mine, printed in zip(table, plan["table"], strict=True):
        assert mine == pytest.approx(
            (printed["number"], printed["fuel_l"], printed["litres"], printed["dropped_s"]), rel=1e-5
        )
    assert table[-1][2] > table[0][2] + 500.0, "the load grows as fuel burns"
    weighed = [
        operating_kg + row[1] * weights["fuel_kg_l"] + row[2] * air["water_density_kg_l"] for row in table
    ]
    assert [row["gross_kg"] for row in plan["table"]] == pytest.approx(weighed, rel=1e-5)
    assert max(weighed) <= lifted_kg * (1.0 + 1e-9)
    # One fuel cycle by the printed plan; the hours by whole tanks one after another.
    assert plan["sustained_litres_per_hour"] == pytest.approx(
        3600.0 * plan["litres"] / plan["cycle_s"], rel=1e-6
    )
    tank_s = plan["cycle_s"]
    whole = int(6.0 * 3600.0 // tank_s)
    flown_l = sum(litres for at, litres in drops if at <= whole * tank_s)
    assert flown_l == pytest.approx(plan["sustained_litres_per_hour"] * whole * tank_s / 3600.0, rel=0.02)


def test_each_score_follows_from_its_printed_figure(source):
    """score = straight lines between the printed points; the whole is the mean by the printed weights."""
    criteria = source["assessment"]["criteria"]
    by_figure = [one for one in criteria if one["score_points"]]
    assert len(by_figure) >= 5
    for one in by_figure:
        across, up = zip(*one["score_points"], strict=True)
        assert one["score"] == pytest.approx(np.interp(one["measured"], across, up), abs=1e-4), one["name"]
    total = sum(one["weight"] for one in criteria)
    mean = sum(one["weight"] * one["score"] for one in criteria) / total
    assert source["assessment"]["score"] == pytest.approx(mean, abs=1e-4)
    assert all(one["weight"] > 0.0 and one["reason"] for one in criteria)


def pieces(leg):
    """Length [m] and mean true track [deg] of each straight piece of the printed way."""
    places = np.array(leg["route"]["coordinates"])
    ahead, behind, length = Geod(ellps="WGS84").inv(*places[:-1].T, *places[1:].T)
    return length, ahead + 0.5 * ((behind + 180.0 - ahead + 180.0) % 360.0 - 180.0)


def seconds(leg, begin_m, end_m, tas_ms):
    """Time over a part of the way by the wind triangle."""
    total, at = 0.0, 0.0
    for length, track in zip(*pieces(leg), strict=True):
        part = max(0.0, min(end_m, at + length) - max(begin_m, at))
        angle = math.radians(WIND_FROM_DEG - track)
        ground = math.sqrt(tas_ms**2 - (WIND_MS * math.sin(angle)) ** 2) - WIND_MS * math.cos(angle)
        total, at = total + part / ground, at + length
    return total


def climbing_s(low_m, high_m, rate_ms, ceiling_m):
    """The rate falls in a straight line from density altitude 0 to 100 ft/min at the ceiling (as printed)."""
    height = np.linspace(low_m, high_m, 4001)
    altitude = np.array([air(one)[2] for one in height])
    least = 100.0 * 0.3048 / 60.0
    return np.trapezoid(1.0 / (rate_ms + (least - rate_ms) * np.clip(altitude / ceiling_m, 0.0, 1.0)), height)


def speeding_up_s(aircraft, climb_ms):
    """The way from standing to the climb speed with the wind behind, flown at the climb speed (as REFERENCE has it)."""
    takes_s = climb_ms / aircraft["acceleration_ms2"]
    return takes_s * (0.5 * climb_ms + WIND_MS) / (climb_ms + WIND_MS)


@pytest.mark.parametrize("which", ["loaded_leg", "empty_leg", "transit_to", "transit_from"])
def test_each_leg_is_its_wind_triangle_its_climb_and_its_descent(told, source, profile, which):
    load, flight = "loaded" if which == "loaded_leg" else "empty", profile["flight"]
    leg = source["cycle"].get(which) or source[which]
    whole = float(np.sum(pieces(leg)[0]))
    assert leg["distance_m"] == pytest.approx(whole, abs=1.0)  # the way is printed to 1e-6 degrees
    cruise_ms, climb_ms = flight[f"cruise_{load}"], flight[f"climb_speed_{load}"]
    up, down, climb_extra, sink_extra = leg["climb"], leg["descent"], 0.0, 0.0
    assert (up is not None) == (which in ("loaded_leg", "transit_to"))
    assert (down is not None) == (which in ("empty_leg", "transit_from"))
    if up is not None:
        assert up["level_s"] == pytest.approx(speeding_up_s(told["profile"], climb_ms), abs=0.01)
        takes_s = up["level_s"] + climbing_s(
            up["from_m"], up["to_m"], flight[f"climb_{load}"], flight["ceiling"]
        )
        assert up["duration_s"] == pytest.approx(takes_s, abs=0.05)
        flown_s = seconds(leg, 0.0, up["covered_m"], climb_ms)
        assert up["duration_s"] == pytest.approx(flown_s + up["waited_s"], abs=0.05)
        climb_extra = takes_s - seconds(leg, 0.0, up["covered_m"], cruise_ms)
    if down is not None:
        sink_s = (down["from_m"] - down["to_m"]) / flight["descent"]
        sink_extra = max(0.0, sink_s - seconds(leg, down["at_m"], whole, cruise_ms))
    assert leg["climb_extra_s"] == pytest.approx(climb_extra, abs=0.05)
    assert leg["descent_extra_s"] == pytest.approx(sink_extra, abs=0.05)
    assert leg["time_s"] == pytest.approx(
        seconds(leg, 0.0, whole, cruise_ms) + climb_extra + sink_extra, abs=0.1
    )


def test_round_trip_rates_and_fuel_are_plain_sums(source, profile):
    cycle, fuel, fixed = source["cycle"], source["fuel"], profile["cycle"]
    parts = cycle["loaded_leg"]["time_s"] + cycle["empty_leg"]["time_s"] + cycle["fill_s"]
    trip_s = parts + fixed["manoeuvre_source"] + fixed["manoeuvre_fire"] + fixed["drop"]
    assert cycle["round_trip_s"] == pytest.approx(trip_s, abs=1e-5)
    assert cycle["loads_per_hour"] == pytest.approx(3600.0 / trip_s, rel=1e-6)
    assert cycle["litres_per_hour"] == pytest.approx(3600.0 * cycle["litres"] / trip_s, rel=1e-6)
    endurance_s = 3600.0 * profile["fuel"]["capacity"] / profile["fuel"]["burn"]
    assert fuel["endurance_s"] == pytest.approx(endurance_s)
    away_s = fuel["transit_to_s"] + fuel["transit_from_s"]
    assert away_s == pytest.approx(
        source["transit_to"]["time_s"] + source["transit_from"]["time_s"], abs=1e-5
    )
    spare_s = endurance_s - profile["fuel"]["reserve"] - away_s
    trips_s = [row["round_trip_s"] for row in fuel["table"]]
    assert sum(trips_s) <= spare_s < sum(trips_s) + max(trips_s) + 5.0
    assert fuel["loads"] == len(trips_s) == fuel["loads_by_fuel"]
    assert fuel["litres"] == pytest.approx(sum(row["litres"] for row in fuel["table"]), abs=1e-3)
    turn_s = sum(trips_s) + away_s + profile["fuel"]["refuel_turn"]
    assert fuel["cycle_s"] == pytest.approx(turn_s, abs=1e-3)
    assert fuel["long_run_litres_per_hour"] == pytest.approx(3600.0 * fuel["litres"] / turn_s, rel=1e-6)


def sun_height_deg(moment, longitude_deg, latitude_deg):
    """The sun's centre above a level horizon without refraction, low precision."""
    days = (moment - datetime(2000, 1, 1, 12, tzinfo=UTC)).total_seconds() / 86400.0
    anomaly = math.radians((357.528 + 0.9856003 * days) % 360.0)
    ecliptic = math.radians(
        (280.460 + 0.9856474 * days) % 360.0 + 1.915 * math.sin(anomaly) + 0.020 * math.sin(2 * anomaly)
    )
    tilt = math.radians(23.439 - 4e-7 * days)
    right_ascension = math.atan2(math.cos(tilt) * math.sin(ecliptic), math.cos(ecliptic))
    declination = math.asin(math.sin(tilt) * math.sin(ecliptic))
    sidereal_deg = (280.46062 + 360.98564737 * days) % 360.0
    hour = math.radians(sidereal_deg + longitude_deg) - right_ascension
    latitude = math.radians(latitude_deg)
    return math.degrees(
        math.asin(
            math.sin(latitude) * math.sin(declination)
            + math.cos(latitude) * math.cos(declination) * math.cos(hour)
        )
    )
