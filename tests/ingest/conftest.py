import pytest

from geo.ingest.checks.report import Report
from geo.ingest.files.process import Limits, Worker
from geo.ingest.layers.layer_file import Desk


@pytest.fixture(scope="session")
def worker():
    with Worker(Limits(file_s=30.0, repair_s=2.0)) as one:
        yield one


@pytest.fixture
def desk(tmp_path, worker):
    return Desk(tmp_path, worker, Report(), lambda _: None)
