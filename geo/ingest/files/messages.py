"""Frames between the process that ingests and the worker that opens files: JSON and raw arrays, never pickle.

A hostile file may take over the worker; what the worker sends back must not be able to run code here.
"""

import io
import itertools
import json
from collections.abc import Callable
from typing import IO, Any

import numpy as np

LENGTH_BYTES = 8
MAX_FRAME_BYTES = 4 * 1024**3


def pack(message: dict[str, Any]) -> bytes:
    """Give a message as one frame: total length, then each binary blob and last the JSON, each after its length.

    Raises: TypeError for a value of another type than JSON's, bytes or arrays.
    Notes: numpy arrays travel in .npy form without pickle, bytes as they are, the rest as JSON.
    """
    blobs: list[bytes] = []

    def swap(value: Any) -> Any:
        """Give what JSON cannot carry as its place among the blobs. Raises: TypeError."""
        if isinstance(value, np.generic):
            return value.item()
        if isinstance(value, np.ndarray):
            buffer = io.BytesIO()
            np.save(buffer, value, allow_pickle=False)
            blobs.append(buffer.getvalue())
            return {"$array": len(blobs) - 1}
        if isinstance(value, (bytes, bytearray)):
            blobs.append(bytes(value))
            return {"$bytes": len(blobs) - 1}
        raise TypeError(f"a message cannot carry {type(value).__name__}")

    blobs.append(json.dumps(message, default=swap).encode())
    payload = b"".join(part for blob in blobs for part in (_length(blob), blob))
    return _length(payload) + payload


def _length(data: bytes) -> bytes:
    return len(data).to_bytes(LENGTH_BYTES, "big")


def unpack(payload: bytes) -> dict[str, Any]:
    """Give back the message of one frame (without its total length).

    Raises: ValueError when the frame is not one that `pack` made.
    """
    view = memoryview(payload)
    pieces: list[memoryview] = []
    while view or not pieces:
        end = LENGTH_BYTES + int.from_bytes(view[:LENGTH_BYTES], "big")
        pieces.append(view[LENGTH_BYTES:end])
        if end > len(view):
            raise ValueError("the frame's lengths do not add up")
        view = view[end:]

    def swap(value: dict[str, Any]) -> Any:
        if set(value) == {"$array"}:
            return np.load(io.BytesIO(pieces[value["$array"]]), allow_pickle=False)
        if set(value) == {"$bytes"}:
            return bytes(pieces[value["$bytes"]])
        return value

    return json.loads(bytes(pieces[-1]), object_hook=swap)


def read_exactly(read: Callable[[int], bytes], count: int) -> bytes:
    """Give exactly `count` bytes of a source. Raises: EOFError when it ends before."""
    parts: list[bytes] = []
    while count > 0:
        part = read(min(count, 1 << 20))
        if not part:
            raise EOFError("the other side closed")
        parts.append(part)
        count -= len(part)
    return b"".join(parts)


def read_frame(read: Callable[[int], bytes]) -> dict[str, Any]:
    """Give the next message of a source. Raises: EOFError at its end, ValueError on a broken frame."""
    length = int.from_bytes(read_exactly(read, LENGTH_BYTES), "big")
    if length > MAX_FRAME_BYTES:
        raise ValueError(f"a frame of {length} bytes is over the limit of {MAX_FRAME_BYTES}")
    return unpack(read_exactly(read, length))


def write_frame(stream: IO[bytes], message: dict[str, Any]) -> None:
    """Write one message and flush."""
    stream.write(pack(message))
    stream.flush()


def pack_geometries(wkb: np.ndarray) -> dict[str, np.ndarray]:
    """Give an object array of WKB (bytes or None) as two plain arrays that a frame can carry."""
    pieces = [b"" if one is None else bytes(one) for one in wkb]
    ends = np.cumsum([len(piece) for piece in pieces], dtype=np.int64)
    return {"wkb": np.frombuffer(b"".join(pieces), np.uint8), "ends": np.asarray(ends, np.int64)}


def unpack_geometries(packed: dict[str, np.ndarray]) -> list[bytes | None]:
    """Give back the WKB list of `pack_geometries`; an empty piece is None."""
    text = packed["wkb"].tobytes()
    starts = [0, *packed["ends"].tolist()]
    return [text[a:b] or None for a, b in itertools.pairwise(starts)]


def plain_list(column: np.ndarray) -> list[str | float | int | bool | None]:
    """Give a column as JSON can carry it: text, numbers, True or False, None for what is missing."""

    def plain(value: Any) -> str | float | int | bool | None:
        if value is None or (isinstance(value, float) and not np.isfinite(value)):
            return None
        return value if isinstance(value, (str, float, int, bool)) else str(value)

    return [plain(value) for value in column.tolist()]
