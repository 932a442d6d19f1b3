"""Clients that others wrote: GDAL's OAPIF driver and QGIS read the layers live and find what the export holds."""

import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pyogrio
import pytest
import shapely
from sqlalchemy import select

from geo import pipeline
from services.store.engine import reading, writing
from services.store.tables import region, run, water_body
from tests.needs import QGIS_PYTHON, needs
from tests.services.feature_samples import features_app, listening


@pytest.fixture
def address(workspace, store):
    """The demo region's layers on either store, as they were published in the session's store."""
    with reading(workspace.store.engine) as kept, writing(store.engine) as own:
        for table in (region, water_body, run):
            columns = [column for column in table.c if column.name != "fid"]
            rows = [dict(row) for row in kept.execute(select(*columns)).mappings()]
            own.execute(table.insert(), rows)
    with listening(features_app(store.engine, region_id=workspace.region.name)) as address:
        yield f"{address}/ogc"


@pytest.fixture(scope="module")
def exported(workspace, tmp_path_factory):
    folder = tmp_path_factory.mktemp("export")
    return pipeline.export_survey(folder, workspace.region, workspace.survey)[0]


def gdal_reads(address: str, folder: Path, **options: object) -> pd.DataFrame:
    """What GDAL reads, in a process of its own: here it would wait for the server and keep it from answering."""
    code = (
        "import ast, sys, pyogrio; "
        "pyogrio.read_dataframe('OAPIF:' + sys.argv[1], **ast.literal_eval(sys.argv[2])).to_pickle(sys.argv[3])"
    )
    kept = folder / "read.pickle"
    words = [sys.executable, "-c", code, address, repr(options), kept]
    subprocess.run(words, check=True, timeout=120)
    return pd.read_pickle(kept)


def test_gdal_reads_what_the_export_holds(address, exported, tmp_path):
    """Count, attributes, CRS and paging (pages of 7) against the GeoPackage that the export writes."""
    for layer, exported_layer, key in (
        ("water_bodies", "water", "body_id"),
        ("runs", "survey_runs", ["body_id", "ordinal"]),
    ):
        live = gdal_reads(address, tmp_path, layer=layer, PAGE_SIZE="7")
        file = pyogrio.read_dataframe(exported, layer=exported_layer)
        if layer == "runs":
            file["ordinal"] = file.groupby("body_id").cumcount() + 1
        assert live.crs.to_authority() in (("EPSG", "4326"), ("OGC", "CRS84"))
        live, file = (frame.set_index(key).sort_index() for frame in (live, file))
        assert list(live.index) == list(file.index) and len(live) == len(file) > 7
        shared = [name for name in file.columns if name in live.columns and name != "geometry"]
        assert len(shared) >= 15
        for name in shared:
            ours, theirs = live[name], file[name]
            if pd.api.types.is_numeric_dtype(theirs.dtype):
                assert np.allclose(ours.astype(float), theirs.astype(float), rtol=1e-9, equal_nan=True), name
            else:
                assert (ours.fillna("") == theirs.fillna("")).all(), name
        # Seven decimals of a degree are about a centimetre.
        assert shapely.hausdorff_distance(live.geometry, file.geometry).max() < 2e-7


def test_gdal_asks_by_box_and_by_system(address, exported, tmp_path):
    """The box is answered by the service; CRS=EPSG:3857 is turned by the service, and by PROJ beside it."""
    file = pyogrio.read_dataframe(exported, layer="water")
    west, south, east, north = file.total_bounds
    box = tuple(float(side) for side in (west, south, (west + east) / 2, (south + north) / 2))
    live = gdal_reads(address, tmp_path, layer="water_bodies", bbox=box)
    assert set(live["body_id"]) == set(file[file.intersects(shapely.box(*box))]["body_id"])
    plane = gdal_reads(address, tmp_path, layer="water_bodies", CRS="EPSG:3857").set_index("body_id")
    turned = file.set_index("body_id").to_crs(3857)
    assert plane.crs == "EPSG:3857"
    assert shapely.hausdorff_distance(plane.geometry, turned.loc[plane.index].geometry).max() < 0.05


@needs("QGIS")
def test_qgis_opens_counts_and_draws(address, workspace, tmp_path):
    script = Path(__file__).with_name("qgis_client.py")
    done = subprocess.run(
        [QGIS_PYTHON, script, address, "water_bodies", tmp_path / "qgis.png"],
        capture_output=True, text=True, timeout=200, check=False, env={"PATH": "/usr/bin:/bin", "HOME": str(tmp_path)},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr[-2000:]
    found = json.loads(done.stdout.strip().splitlines()[-1])
    assert found["valid"] and found["crs"] in ("OGC:CRS84", "EPSG:4326")
    assert found["features"] == sorted(body.body_id for body in workspace.region.bodies)
    assert {"name", "longest_run_m", "run_depth_95_m"} <= set(found["fields"])
    assert found["drawn"] > 500
