"""For all tests: one thread for linear algebra, drawn examples without a clock, and at the end what was skipped."""

import os

import pytest
from hypothesis import HealthCheck, settings

# As the command line sets it, before numpy is imported.
for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(name, "1")

# No test looks at a clock: on a busy machine an example may take long.
settings.register_profile("no clock", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("no clock")


@pytest.fixture(scope="session")
def demo_region():
    """The invented demo region, loaded once for all tests of a worker."""
    from geo import pipeline
    from tests.made_once import DEMO

    return pipeline.load(DEMO)


@pytest.fixture(scope="session")
def demo_survey(tmp_path_factory):
    """Its survey, made once for all tests of a run."""
    from tests import made_once

    return made_once.demo_survey(tmp_path_factory)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put the files that take long first: begun last, one would keep one worker busy while the others rest."""
    items.sort(key=lambda item: item.get_closest_marker("early") is None)


@pytest.hookimpl(trylast=True)
def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Say how many tests were skipped for each reason; with several workers too, whose reports all come here."""
    from tests import needs

    skipped = [report.longrepr[2] for report in terminalreporter.getreports("skipped")]
    for line in needs.table(reason.removeprefix("Skipped: ") for reason in skipped):
        terminalreporter.write_line(line)
