"""The shared geodesy against published geodesics; the source stands beside each row."""

import numpy as np
import pytest

from geo.base.geodesy import geodesic, grid_heading_deg, local_crs, plane_geodesic, to_degrees, to_plane


def dms(degrees: int, minutes: int, seconds: float) -> float:
    return degrees + minutes / 60 + seconds / 3600


# lon1, lat1, lon2, lat2, distance m, tolerance m, source.
DISTANCES = [
    (-73.8, 40.6, -0.5, 51.6, 5551759.400319, 1e-3, "GeographicLib example"),
    (174.81, -41.32, -5.50, 40.96, 19959679.267, 1e-3, "GeographicLib documentation, near-antipodal"),
    (-5.71475, 50.06632, -3.07009, 58.64402, 969954.166, 1e-3, "public test suites"),
    (0, 0, 179.5, 0.5, 19936288.579, 1e-3, "GeographicLib test"),
    (0, 0, 179.7, 0.5, 19944127.420750, 1e-3, "GeographicLib test, iterative formula fails"),
    (0, 0, 0, 90, 10001965.729, 1e-3, "WGS 84 quarter meridian"),
    (0, 0, 180, 0, 20003931.4586, 1e-3, "antipodal on the equator"),
    (0, 0, 1, 0, 111319.491, 1e-3, "one degree of longitude on the equator"),
    (
        0,
        -0.5,
        0,
        0.5,
        110574.304,
        0.1,
        "one degree of latitude centred on the equator (within its second order)",
    ),
    (0, 44.5, 0, 45.5, 111131.778, 0.1, "one degree of latitude centred on 45 deg"),
    (105, 10, 105.000001, 10, 0.109639, 1e-6, "short-line stability"),
]


@pytest.mark.parametrize(("lon1", "lat1", "lon2", "lat2", "metres", "tolerance", "source"), DISTANCES)
def test_published_distances(lon1, lat1, lon2, lat2, metres, tolerance, source):
    assert geodesic(lon1, lat1, lon2, lat2).distance_m == pytest.approx(metres, abs=tolerance), source


def test_published_bearings():
    # GeographicLib example: azi1 51.198882846, azi2 107.821776736.
    route = geodesic(-73.8, 40.6, -0.5, 51.6)
    assert route.start_bearing_deg == pytest.approx(51.198882846, abs=1e-8)
    assert route.end_bearing_deg == pytest.approx(107.821776736, abs=1e-8)
    # GeographicLib documentation: 161.067670 / 18.825195.
    route = geodesic(174.81, -41.32, -5.50, 40.96)
    assert route.start_bearing_deg == pytest.approx(161.067670, abs=1e-6)
    assert route.end_bearing_deg == pytest.approx(18.825195, abs=1e-6)
    # Public test suites, Land's End to John o' Groats: 9.1419, 11.2972.
    route = geodesic(-5.71475, 50.06632, -3.07009, 58.64402)
    assert route.start_bearing_deg == pytest.approx(9.1419, abs=6e-5)
    assert route.end_bearing_deg == pytest.approx(11.2972, abs=6e-5)


def test_flinders_peak_to_buninyong():
    # Australian GDA technical manual test pair: 54,972.271 m, 306 52 05.37, reverse 127 10 25.07.
    flinders = dms(144, 25, 29.52440), -dms(37, 57, 3.72030)
    buninyong = dms(143, 55, 35.38390), -dms(37, 39, 10.15610)
    route = geodesic(*flinders, *buninyong)
    assert route.distance_m == pytest.approx(54972.271, abs=6e-4)
    assert route.start_bearing_deg == pytest.approx(dms(306, 52, 5.37), abs=0.006 / 3600)
    assert (route.end_bearing_deg + 180) % 360 == pytest.approx(dms(127, 10, 25.07), abs=0.006 / 3600)


def test_plane_geodesic_is_the_ellipsoid_one():
    crs = local_crs(144.2, -37.8).to_wkt()
    longitude, latitude = np.array([144.4248679, 143.9331622]), np.array([-37.9510334, -37.6528211])
    easting, northing = to_plane(crs, longitude, latitude)
    route = plane_geodesic(crs, (easting[0], northing[0]), (easting[1], northing[1]))
    straight = geodesic(longitude[0], latitude[0], longitude[1], latitude[1])
    assert route.distance_m == pytest.approx(straight.distance_m, abs=1e-4)
    assert route.start_bearing_deg == pytest.approx(straight.start_bearing_deg, abs=1e-7)
    back = to_degrees(crs, easting, northing)
    assert back[0] == pytest.approx(longitude, abs=1e-10)
    assert back[1] == pytest.approx(latitude, abs=1e-10)


def test_azimuthal_equidistant_keeps_distances_from_its_centre():
    # Property of the projection (Snyder 1987, USGS PP 1395, ch. 25): exact from the centre.
    crs = local_crs(10.0, 47.0).to_wkt()
    easting, northing = to_plane(crs, np.array([10.4]), np.array([47.3]))
    assert np.hypot(easting[0], northing[0]) == pytest.approx(
        geodesic(10, 47, 10.4, 47.3).distance_m, abs=1e-4
    )


@pytest.mark.parametrize(
    ("end", "heading"),
    [((0, 5), 0.0), ((7, 0), 90.0), ((0, -3), 180.0), ((-2, 0), 270.0), ((1, 3**0.5), 30.0)],
)
def test_grid_heading(end, heading):
    assert grid_heading_deg((0, 0), end) == pytest.approx(heading, abs=1e-12)
