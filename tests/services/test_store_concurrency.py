"""Many at once: readers while somebody writes, and a writer that is killed in the middle. Both databases."""

import os
import signal
import subprocess
import sys
import threading
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
import shapely
from sqlalchemy import func, select

from services.store import sites
from services.store.engine import place, reading, writing
from services.store.files import check_file
from services.store.tables import closure, site, site_change
from tests.services.store_samples import RAMP
from tests.services.test_store import closure_row

ROOT = Path(__file__).resolve().parents[2]


def test_fifty_readers_while_one_writes(store):
    """Each commit adds 10 closures and sets the site's note to their number; no reader sees one without the other."""
    sites.create(store.engine, "made", RAMP.model_copy(update={"note": "0"}), "anna", "S1")
    done, wrong = threading.Event(), []

    def write():
        try:
            for step in range(20):
                with writing(store.engine) as connection:
                    rows = [closure_row(f"{step}/{i}", shapely.box(i, 0, i + 1, 1)) for i in range(10)]
                    connection.execute(closure.insert(), rows)
                    connection.execute(site.update().values(note=str(10 * (step + 1))))
        finally:
            done.set()

    def read(_):
        looks = 0
        while not done.is_set() or looks == 0:
            with reading(store.engine) as connection:
                note = connection.scalar(select(site.c.note))
                count = connection.scalar(select(func.count()).select_from(closure))
            looks += 1
            if int(note) != count:
                wrong.append((note, count))
            # Fifty that never pause only keep the writer from writing.
            done.wait(0.02)
        return looks

    with ThreadPoolExecutor(51) as pool:
        writer = pool.submit(write)
        looks = list(pool.map(read, range(50)))
        writer.result()
    assert wrong == [] and min(looks) >= 1
    with reading(store.engine) as connection:
        assert connection.scalar(select(func.count()).select_from(closure)) == 200


KILLED = """
import sys, time
sys.path.insert(0, {root!r})
from services.settings import Settings
from services.store import sites
from services.store.engine import writing
from services.store.store import open_store
from services.store.tables import closure, site
from tests.services.store_samples import RAMP
from tests.services.test_store import closure_row
import shapely
store = open_store(Settings(data_dir={folder!r}, store_url={url!r}))
sites.create(store.engine, "made", RAMP, "anna", "confirmed")
with writing(store.engine) as connection:
    for i in range(2000):
        connection.execute(closure.insert().values(closure_row(str(i), shapely.box(0, 0, 1, 1))))
    connection.execute(site.update().values(note="half done"))
    print("in the middle", flush=True)
    time.sleep(600)
"""


@pytest.mark.parametrize("kind", ["file", "postgis"])
def test_a_killed_writer_leaves_the_store_whole(new_store, kind):
    """SIGKILL in the middle of a transaction: what was confirmed is there, nothing else, and others write at once."""
    store = new_store(kind)
    url = None if kind == "file" else store.engine.url.render_as_string(hide_password=False)
    folder = str(Path(place(store.engine)).parent) if kind == "file" else "/nowhere"
    script = KILLED.format(root=str(ROOT), folder=folder, url=url)
    with subprocess.Popen(
        [sys.executable, "-c", script], stdout=subprocess.PIPE, text=True, cwd=ROOT
    ) as process:
        assert process.stdout.readline() == "in the middle\n"
        os.kill(process.pid, signal.SIGKILL)
    with reading(store.engine) as connection:
        assert connection.scalar(select(func.count()).select_from(closure)) == 0
        assert connection.scalar(select(func.count()).select_from(site_change)) == 1
    assert sites.get(store.engine, "confirmed").fields == RAMP
    assert sites.retire(store.engine, "confirmed", 1, "ben").revision == 2
    if kind == "file":
        store.close()
        check_file(Path(folder) / "fetchwater.gpkg")


def test_a_second_writer_waits_for_the_first(store):
    """Two transactions that each read and then write the same counter: none overwrites the other."""
    sites.create(store.engine, "made", RAMP.model_copy(update={"note": "0"}), "anna", "S1")

    def add(_):
        with writing(store.engine) as connection:
            present = sites.site_in(connection, "S1", locked=True)
            fields = present.fields.model_copy(update={"note": str(int(present.fields.note) + 1)})
            sites.step(
                connection, present, present.model_copy(update={"fields": fields}), "somebody", "update"
            )

    with ThreadPoolExecutor(8) as pool:
        list(pool.map(add, range(40)))
    assert sites.get(store.engine, "S1").fields.note == "40"
