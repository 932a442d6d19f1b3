"""Scratch memory of one run search, made once and used for every bundle."""

from typing import NamedTuple

import numpy as np
from numba import njit

from geo.survey.longest.frame import Frame, Rings
from geo.survey.longest.pool import ROW, Pool, make_pool

STACK = 600
_POOL = 64
_TOUCHED = 12
_BOUNDS = 24


class Scratch(NamedTuple):
    """Scratch of one search; see the functions that write each."""

    cuts: np.ndarray
    blocks: np.ndarray
    pieces: np.ndarray
    blockers: np.ndarray
    spans: np.ndarray
    spanned: np.ndarray
    bounds: np.ndarray
    places: np.ndarray
    circles: np.ndarray
    inner: np.ndarray
    order: np.ndarray
    edges: np.ndarray
    active: np.ndarray
    offsets: np.ndarray
    nodes: np.ndarray
    children: np.ndarray
    cut: np.ndarray
    pool: Pool


class Hunt(NamedTuple):
    """What one search works on, with the best run found yet: (length, x1, y1, x2, y2) [m] about the local origin."""

    shore: Rings
    frame: Frame
    scratch: Scratch
    best: np.ndarray


@njit(cache=True)
def make_scratch(vertices: int) -> Scratch:
    """Give scratch for a shore of so many vertices, each counted once."""
    edges = vertices + 4
    return Scratch(
        np.empty((2, 2 * edges)),
        np.empty((2, edges)),
        np.empty((3, edges)),
        np.empty((6, 3 * edges)),
        np.empty((6, edges)),
        np.empty(edges, np.int64),
        np.empty((_BOUNDS, 4)),
        np.empty((2, 2)),
        np.empty((_TOUCHED, 3)),
        np.empty(edges, np.int64),
        np.empty(3 * edges, np.int64),
        np.empty(edges, np.int64),
        np.empty(edges, np.int64),
        np.empty(edges),
        np.empty((STACK, ROW)),
        np.empty((4, ROW)),
        np.empty(1),
        make_pool(_POOL),
    )
