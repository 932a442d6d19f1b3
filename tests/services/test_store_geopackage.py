"""The embedded store is a valid GeoPackage that other programs open: checked by the format's validator, GDAL and QGIS.

Each of them runs in a process of its own: two SQLite libraries on one file in one process break its locks.
"""

import json
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

from services.store import sites
from services.store.engine import place
from services.store.tables import LAYERS, metadata
from tests.needs import QGIS_PYTHON, needs
from tests.services.store_samples import RAMP, fill


@pytest.fixture
def path(new_store, workspace):
    """A filled store that nobody has open."""
    store = new_store("file")
    fill(store, workspace)
    store.close()
    return Path(place(store.engine))


def run(script, *words, python=sys.executable):
    done = subprocess.run(
        [str(python), "-W", "ignore", "-c", script, *map(str, words)],
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
        env={"QT_QPA_PLATFORM": "offscreen", "PATH": "/usr/bin:/bin", "HOME": "/tmp"},
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout.splitlines()[-1])


def test_the_validator_finds_no_fault(path):
    """GDAL's validate_gpkg goes through the requirements of OGC 12-128 one by one."""
    done = subprocess.run(
        [sys.executable, "-m", "osgeo_utils.samples.validate_gpkg", str(path)],
        capture_output=True, text=True, timeout=120, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr


def test_marks_of_the_format(path):
    """OGC 12-128r17, requirement 2: application_id "GPKG", user_version 10300 for version 1.3."""
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute("PRAGMA application_id").fetchone() == (0x47504B47,)
        assert connection.execute("PRAGMA user_version").fetchone() == (10300,)
        listed = dict(connection.execute("SELECT table_name, data_type FROM gpkg_contents"))
        assert listed == {
            table.name: "features" if table in LAYERS else "attributes" for table in metadata.sorted_tables
        }
        for table in LAYERS:
            rows = connection.execute(f"SELECT count(*) FROM {table.name}").fetchone()
            assert connection.execute(f"SELECT count(*) FROM rtree_{table.name}_geom").fetchone() == rows


GDAL = """
import json, sys, pyogrio
found = {name: kind for name, kind in pyogrio.list_layers(sys.argv[1]).tolist()}
frame = pyogrio.read_dataframe(sys.argv[1], layer="site")
box = pyogrio.read_dataframe(sys.argv[1], layer="water_body", bbox=(-180, -90, 180, 90))
far = pyogrio.read_dataframe(sys.argv[1], layer="water_body", bbox=(0, 0, 1, 1))
info = pyogrio.read_info(sys.argv[1], layer="site")
types = {name: str(kind) for name, kind in zip(info["fields"], info["dtypes"])}
print(json.dumps({"layers": found, "name": frame.name[0], "x": frame.geometry[0].x, "crs": frame.crs.to_epsg(),
                  "waters": len(box), "far": len(far), "area": box.area_m2.sum(), "types": types}))
"""


def test_gdal_reads_the_layers(path, workspace):
    found = run(GDAL, path)
    assert {name for name, kind in found["layers"].items() if kind is not None} == {t.name for t in LAYERS}
    assert (found["name"], found["x"], found["crs"]) == (RAMP.name, RAMP.longitude_deg, 4326)
    assert (found["waters"], found["far"]) == (len(workspace.survey.bodies), 0)
    assert found["area"] == pytest.approx(sum(body.area_m2 for body in workspace.survey.bodies))
    assert found["types"]["inspected_on"].startswith("datetime64") and found["types"][
        "updated_at"
    ].startswith("datetime64")


EDIT = """
import json, sys, pyogrio
frame = pyogrio.read_dataframe(sys.argv[1], layer="closure")
frame["closure_id"] = "of the GIS"
pyogrio.write_dataframe(frame.set_geometry(frame.translate(50, 40)), sys.argv[1], layer="closure", append=True)
print("1")
"""


def test_what_a_gis_writes_the_store_reads(path, new_store):
    """A row appended by GDAL in its own process is in our index, and our triggers still work."""
    run(EDIT, path)
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute("SELECT count(*) FROM rtree_closure_geom").fetchone() == (2,)
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)


QGIS = """
import json, sys
from qgis.core import QgsApplication, QgsVectorLayer
app = QgsApplication([], False)
app.initQgis()
found = {}
for name in sys.argv[2:]:
    layer = QgsVectorLayer(f"{sys.argv[1]}|layername={name}", name, "ogr")
    found[name] = [layer.isValid(), layer.featureCount(), layer.crs().authid()]
    del layer
print(json.dumps(found), flush=True)
app.exitQgis()
"""


@needs("QGIS")
def test_qgis_opens_every_layer(path, workspace):
    found = run(QGIS, path, *[table.name for table in LAYERS], python=QGIS_PYTHON)
    assert all(valid and crs == "EPSG:4326" for valid, _, crs in found.values()), found
    assert found["water_body"][1] == len(workspace.survey.bodies)
    assert found["site"][1] == 1


def test_the_file_stands_alone_when_nobody_has_it_open(path):
    """No -wal beside it: what a planner copies to a stick is the whole store."""
    assert [one.name for one in path.parent.iterdir() if one.is_file()] == ["fetchwater.gpkg"]


def test_readers_open_it_while_it_is_written(new_store):
    """A GIS may look at the layers while the service writes."""
    store = new_store("file")
    sites.create(store.engine, "made", RAMP, "anna", "S1")
    script = (
        'import json, sys, pyogrio; print(json.dumps(len(pyogrio.read_dataframe(sys.argv[1], layer="site"))))'
    )
    from services.store.engine import writing
    from services.store.tables import site

    with writing(store.engine) as connection:
        connection.execute(site.update().values(note="being written"))
        assert run(script, place(store.engine)) == 1
    assert sites.get(store.engine, "S1").fields.note == "being written"
