"""The process that opens user files. Run as `python -m geo.ingest.files.worker`; talks over its standard streams.

It is killed from outside when a task takes too long, and shuts itself in before GDAL is loaded.
"""

import os
import signal
import sys
import traceback
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import Any, BinaryIO

from geo.ingest.files.messages import read_frame, write_frame
from geo.ingest.files.refusal import Refusal
from geo.ingest.files.sandbox import forbidden_drivers, restart_without, shut_in

HERE = Path(__file__).parent
ORPHAN_GRACE_S = 30
# Raised by mistakes of the program, not by a file: they must not be put down to what the user sent.
MISTAKES = (
    NameError, TypeError, AttributeError, KeyError, IndexError, AssertionError, ImportError, NotImplementedError
)  # fmt: skip


def tasks() -> dict[str, Callable[..., dict[str, Any]]]:
    """Give the tasks by name; imports GDAL."""
    from geo.ingest.files import csv_table, raster_file, repair, vector_file

    return {
        "read vector": vector_file.read_vector,
        "read table": csv_table.read_table,
        "read raster": raster_file.read_raster,
        "find invalid": repair.find_invalid,
        "repair": repair.repair,
    }


def private_streams() -> tuple[BinaryIO, BinaryIO]:
    """Give the two streams to the parent, and send whatever a C library prints to the error stream."""
    incoming = os.fdopen(os.dup(0), "rb")
    outgoing = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    return incoming, outgoing


def answer(known: dict[str, Callable[..., dict[str, Any]]], request: dict[str, Any]) -> dict[str, Any]:
    """Do one task and give its result, or its error as one sentence: "mistake" where the program itself failed."""
    try:
        return {"result": known[request["task"]](**request["arguments"])}
    except Refusal as refusal:
        return {"result": {"faults": [refusal.fault]}}
    except MemoryError:
        return {"error": "reading it needs more than the 4 GiB of memory that one file may take"}
    except RecursionError:
        return {"error": "it is nested too deeply"}
    except MISTAKES as error:
        return {"mistake": f"{type(error).__name__}{_place_of(error)}"}
    except Exception as error:
        # Readers raise a whole zoo of types; here each of them means "this file cannot be read".
        return {"error": f"{type(error).__name__}: {' '.join(str(error).split())[:300]}"}


def _place_of(error: BaseException) -> str:
    """Name the last line of this program that an error came through: what a person who mends it needs first."""
    lines = [one for one in traceback.extract_tb(error.__traceback__) if Path(one.filename).parent == HERE]
    return f", {Path(lines[-1].filename).name} line {lines[-1].lineno}" if lines else ""


def main() -> None:
    """Serve tasks until the parent closes the stream."""
    incoming, outgoing = private_streams()
    shut_in()
    for package in ("geopandas", "pandas", "pyarrow"):
        # Not imported here: the readers load them when they are installed, and take twice as long to start.
        sys.modules[package] = None  # type: ignore[assignment]  # a blocked name: the stub knows modules only
    if extra := forbidden_drivers():
        os.dup2(incoming.fileno(), 0)
        os.dup2(outgoing.fileno(), 1)
        restart_without(extra)
    warnings.simplefilter("ignore")
    known = tasks()
    write_frame(outgoing, {"result": {}})
    while True:
        try:
            request = read_frame(incoming.read)
        except EOFError:
            return
        if hasattr(signal, "alarm"):
            # Ends this process even when the parent was killed and cannot end it.
            signal.alarm(int(request["limit_s"]) + ORPHAN_GRACE_S)
        write_frame(outgoing, answer(known, request))
        if hasattr(signal, "alarm"):
            signal.alarm(0)


if __name__ == "__main__":
    main()
    sys.exit(0)
