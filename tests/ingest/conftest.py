import pytest

from geo.ingest.checks.report import Report
from geo.ingest.files.process import Limits, Worker
from geo.ingest.layers.reader import FileReader


@pytest.fixture(scope="session")
def worker():
    with Worker(Limits(file_s=30.0, repair_s=2.0)) as one:
        yield one


@pytest.fixture
def reader(tmp_path, worker):
    return FileReader(tmp_path, worker, Report())
