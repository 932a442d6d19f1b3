"""A fire's outline from a receiver's track: its caution reaches the ranking, an open track ends with exit code 2."""

import json
import os

import gpxpy.gpx
import pytest

from geo import pipeline
from tests.services.commands import commands_on
from tests.services.tiny_region import FIRE, write_tiny_region

WEATHER = ("--wind", "300/18kt", "--oat", "34C", "--qnh", "1009")
WEST, SOUTH, EAST, NORTH = FIRE


def track(path, last_latitude_deg):
    """A track round the tiny region's fire that ends at the west side, so far up."""
    corners = [(WEST, SOUTH), (EAST, SOUTH), (EAST, NORTH), (WEST, NORTH), (WEST, last_latitude_deg)]
    document = gpxpy.gpx.GPX()
    document.tracks.append(gpxpy.gpx.GPXTrack())
    points = [gpxpy.gpx.GPXTrackPoint(latitude, longitude) for longitude, latitude in corners]
    document.tracks[0].segments.append(gpxpy.gpx.GPXTrackSegment(points))
    path.write_text(document.to_xml(version="1.1"))
    return path


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return write_tiny_region(tmp_path_factory.mktemp("fires") / "region")


def test_rank_says_what_was_done_to_the_outline(folder, tmp_path):
    run = commands_on(tmp_path / "store")

    def rank(file, *more):
        return run("rank", folder, "--fire", file, *WEATHER, *more)

    done = rank(
        track(tmp_path / "near.gpx", SOUTH + 0.0002),
        "--json",
        "--out",
        tmp_path / "out",
        "--formats",
        "gpx,kmz",
    )
    answer = json.loads(done.stdout)
    assert done.exit_code == 0 and answer["sources"]
    assert "near.gpx" in answer["cautions"][0] and "open by 22 m" in answer["cautions"][0]
    assert sorted(os.listdir(tmp_path / "out")) == ["water_sources.gpx", "water_sources.kmz"]
    assert "--formats needs a folder" in rank("F1", "--formats", "gpx").stderr
    done = rank(track(tmp_path / "open.gpx", SOUTH + 0.0015))
    assert done.exit_code == 2 and "the line is open: there are 167 m" in done.stderr


def test_the_pages_note_says_it_too(folder, tmp_path):
    """What POST /fires/read answers with."""
    region = pipeline.load(folder)
    closed = pipeline.fire_file(track(tmp_path / "closed.gpx", SOUTH), region)
    near = pipeline.fire_file(track(tmp_path / "near.gpx", SOUTH + 0.0002), region)
    assert closed["note"] is None and closed["name"] == "closed"
    assert "open by 22 m" in near["note"] and near["geometry"]["type"] == "Polygon"
