"""What is dear to make and the same for all tests: made once in a run, whichever of its workers asks first."""

import fcntl
import os
import pickle
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

DEMO = Path(__file__).resolve().parents[1] / "demo_region"


def folder_of_run(factory: pytest.TempPathFactory) -> Path:
    """Give a folder that all workers of this run share and no other run knows."""
    own = factory.getbasetemp()
    return own.parent if "PYTEST_XDIST_WORKER" in os.environ else own


def made_once(path: Path, make: Callable[[Path], None]) -> Path:
    """Give a file or folder, made at another name and put in place whole by the first who asks; the others wait."""
    with path.with_name(f"{path.name}.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not path.exists():
            part = path.with_name(f"{path.name}.part")
            make(part)
            part.rename(path)
    return path


def demo_survey(factory: pytest.TempPathFactory) -> object:
    """Give the survey of the demo region. The file of a run is of today's code and data, so nothing needs to age."""
    from geo import pipeline

    def survey(path: Path) -> None:
        path.write_bytes(pickle.dumps(pipeline.survey(pipeline.load(DEMO))))

    return pickle.loads(made_once(folder_of_run(factory) / "demo_survey", survey).read_bytes())


def demo_store(factory: pytest.TempPathFactory) -> Path:
    """Give a folder with a store of one's own that holds the survey of the demo region."""
    from services.core.workspace import open_workspace
    from services.store.store import embedded_store

    def fill(folder: Path) -> None:
        store = embedded_store(folder)
        open_workspace(DEMO, store)
        store.close()

    whole = made_once(folder_of_run(factory) / "demo_store", fill)
    own = factory.mktemp("stores") / "demo"
    shutil.copytree(whole, own)
    return own
