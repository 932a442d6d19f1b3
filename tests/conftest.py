"""For all tests: one thread for linear algebra, and at the end what was skipped and what brings it."""

import os

import pytest

# As the command line sets it, before numpy is imported.
for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(name, "1")


@pytest.hookimpl(trylast=True)
def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Say how many tests were skipped for each reason; with several workers too, whose reports all come here."""
    from tests import needs

    skipped = [report.longrepr[2] for report in terminalreporter.getreports("skipped")]
    for line in needs.table(reason.removeprefix("Skipped: ") for reason in skipped):
        terminalreporter.write_line(line)
