"""For all tests: linear algebra on one thread, as the command line sets it, before numpy is imported."""

import os

for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(name, "1")
