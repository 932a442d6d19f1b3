"""`make bench`: every figure beside its baseline, measured in the same run. Seconds are CPU seconds of one process."""

import importlib
import os
import pkgutil

for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(name, "1")


def main() -> None:
    """Run every bench_*.py of this folder in the order of their names."""
    import tests.bench as folder

    for module in sorted(
        m.name for m in pkgutil.iter_modules(folder.__path__) if m.name.startswith("bench_")
    ):
        print(f"\n== {module.removeprefix('bench_').replace('_', ' ')} ==", flush=True)
        importlib.import_module(f"tests.bench.{module}").main()


if __name__ == "__main__":
    main()
