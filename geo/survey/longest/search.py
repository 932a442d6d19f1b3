"""Branch and bound over bundles of lines: the exact longest run, with a bound on whatever was not searched.

Why it is exact. Turn a run about a shore vertex that it touches: between two fixed shore edges its length is convex in
the angle; shift it without turning: its length is linear in the offset. So some longest run touches two vertices. A
bundle is dropped when its bound does not beat the best run found; it is finished when so few vertices lie in it that
the line through each pair can be tried. With clearance there is no finite list of lines: bundles are halved until
bound and best agree, the small ones by falling bound.
"""

from typing import cast

import numpy as np
from numba import njit

from geo.survey.longest.bundles import add_capsules, keep_stretches, list_blockers, list_pieces, longest_gap
from geo.survey.longest.frame import NONE, Bundle, Frame, Part, Quest, Rings, Stretches, copy_row, turn
from geo.survey.longest.limits import SearchLimits, is_over
from geo.survey.longest.pool import ROW, SMALL, Pool, best_waiting, put, take
from geo.survey.longest.scratch import STACK, Hunt, Scratch
from geo.survey.longest.tangents import try_tangents
from geo.survey.longest.trials import sweep_offsets, try_hull, try_middle, try_pairs

SECTORS = 8  # frames that share the half circle of directions
UNLIMITED = cast(int, np.int64(1_000))  # halvings: more than doubles can tell apart (typed as `NONE`)
_SECTOR_SLOPE = np.tan(0.5 * np.pi / SECTORS) * (1.0 + 1e-9)
_EXACT_SLACK = 1e-11  # relative; bundles that could be longer by less than this are dropped
_CLEAR_SLACK = 4e-10  # the same with clearance
_EPS = 1e-12  # of the body's size: how near a bundle a vertex counts as in it
_FEW = 10  # vertices in a bundle of which every pair is tried
_SWEPT = 12  # vertices in a bundle of parallel lines that one sweep goes through
_MANY = 64  # the same in a bundle too narrow to be halved
SEED_HALVINGS = 20  # depth of the quick look for a good run to begin with
_GOOD = 0.9  # share of a bundle's bound below which the best run found is worth improving by any line
_CHEAP_EDGES = 400  # edges in a bundle up to which lines are tried with clearance before it is narrow

# Of what a large bundle promises beyond the best run: a small one that promises more goes first.
_FIRST_SHARE = 0.5
_WORK = 100  # edges that the fixed cost of halving a bundle stands for
_HAIR = 1e-11  # of the clearance
_ROUNDING = 2.0**-52

# What became of a bundle.
_OPEN, _FINISHED, _GIVEN_UP = 0, 1, 2


@njit(cache=True)
def _quest(frame: Frame, tied: bool, radius: float) -> Quest:
    left, width = frame.u.min(), frame.u.max() - frame.u.min()
    size = max(width, frame.v.max() - frame.v.min())
    slack = 1.0 + (_EXACT_SLACK if radius == 0.0 else _CLEAR_SLACK)
    hair = _HAIR * radius * frame.norm + 8.0 * _ROUNDING * size if radius > 0.0 else 0.0
    clear, touch = radius * frame.norm - hair, radius * frame.norm - 0.5 * hair
    return Quest(
        tied, max(clear, 0.0), max(touch, 0.0), 0.0 if tied else _SECTOR_SLOPE, left, width, size, slack
    )


@njit(cache=True)
def _steepest(bundle: Bundle, quest: Quest) -> float:
    """Give the steepest slope, up or down, of a bundle's lines in the sector."""
    return min(quest.cap, max(abs(bundle.a2 - bundle.b1), abs(bundle.b2 - bundle.a1)) / bundle.width)


@njit(cache=True)
def _bound(hunt: Hunt, stretches: Stretches, edges: int, bundle: Bundle, quest: Quest) -> Part:
    """Give a bundle with a bound on its runs [frame units], 0 when not above the best one's, and what they touch."""
    frame, scratch = hunt.frame, hunt.scratch
    least = hunt.best[0] * quest.slack * frame.norm
    pieces, inside = list_pieces(frame, stretches, bundle, _EPS * quest.size, scratch)
    norm = np.sqrt(1.0 + _steepest(bundle, quest) ** 2)
    made = list_blockers(scratch, pieces, quest.radius / norm)
    touched = -1
    if quest.radius > 0.0 and min(bundle.b1 - bundle.a1, bundle.b2 - bundle.a2) < 2.0 * quest.radius * norm:
        made, touched = add_capsules(frame, stretches, bundle, quest.radius, scratch, made)
    longest, low, high = longest_gap(bundle, scratch, made, touched, quest.tied, norm, least)
    return Part(stretches, bundle, edges, longest, inside, touched, low, high)


@njit(cache=True)
def _settle(hunt: Hunt, part: Part, bound: float, quest: Quest) -> int:
    """Try lines of a bundle where that is worth it; say whether that finished it. bound: no run of it is longer [m]."""
    bundle, stretches, inside, best = part.bundle, part.stretches, part.inside, hunt.best
    widest = max(bundle.b1 - bundle.a1, bundle.b2 - bundle.a2)
    tiny = widest <= 4.0 * _EPS * quest.size
    hunt.scratch.cut[0] = np.nan
    if quest.radius > 0.0:
        is_good = best[0] > _GOOD * bound
        worth_it = part.edges < _CHEAP_EDGES or widest < quest.radius
        if worth_it and try_tangents(hunt, part, quest, is_good):
            return _FINISHED
        return _GIVEN_UP if tiny else _OPEN
    if inside > (_SWEPT if quest.tied else _FEW) and not tiny:
        if best[0] < _GOOD * bound:
            try_middle(hunt, stretches, bundle, _EPS * quest.size)
        return _OPEN
    if quest.tied:
        sweep_offsets(hunt, stretches, inside, quest.size)
        return _FINISHED
    try_pairs(hunt, stretches, bundle, min(inside, _MANY))
    if inside > _MANY:
        try_hull(hunt, stretches, inside)
        return _GIVEN_UP
    return _FINISHED


@njit(cache=True)
def _part_of(row: np.ndarray, part: int, quest: Quest) -> Bundle:
    """Give one part of a bundle: halves of both gates, or the same part of both when tied."""
    middle1, middle2 = 0.5 * (row[0] + row[1]), 0.5 * (row[2] + row[3])
    if not np.isnan(row[10]):
        middle1, middle2 = row[10], row[10]
    low1, low2 = part % 2 == 0, (part if quest.tied else part // 2) % 2 == 0
    return Bundle(
        row[0] if low1 else middle1,
        middle1 if low1 else row[1],
        row[2] if low2 else middle2,
        middle2 if low2 else row[3],
        quest.left,
        quest.width,
    )


@njit(cache=True, inline="always")
def _write(
    row: np.ndarray, bundle: Bundle, bound: float, begin: int, stop: int, edges: int, depth: int
) -> None:
    """Write a bundle as a row: gates, bound [m], stretches, edges in them, number of halvings."""
    row[0], row[1], row[2], row[3] = bundle.a1, bundle.b1, bundle.a2, bundle.b2
    row[4], row[5], row[6], row[7], row[8] = bound, begin, stop, edges, depth


@njit(cache=True)
def _split(
    hunt: Hunt, quest: Quest, first: np.ndarray, last: np.ndarray, row: np.ndarray
) -> tuple[int, float]:
    """Halve a bundle; write the parts still open to scratch.children; give their number, and a bound on the others."""
    frame, scratch, best = hunt.frame, hunt.scratch, hunt.best
    parent = Stretches(first, last, int(row[5]), int(row[6]))
    at, made, given_up = int(row[9]), 0, 0.0
    for part in range(2 if quest.tied else 4):
        bundle = _part_of(row, part, quest)
        if not quest.tied and (
            bundle.a2 - bundle.b1 > quest.cap * quest.width
            or bundle.b2 - bundle.a1 < -quest.cap * quest.width
        ):
            continue
        reach = _EPS * quest.size + quest.radius * np.sqrt(1.0 + _steepest(bundle, quest) ** 2)
        stop, edges = keep_stretches(frame, parent, bundle, reach, at)
        stretches = Stretches(first, last, at, stop)
        found = _bound(hunt, stretches, edges, bundle, quest)
        bound = min(found.bound / frame.norm, row[4])
        if bound <= best[0] * quest.slack:
            continue
        fate = _settle(hunt, found, bound, quest)
        if fate == _GIVEN_UP:
            given_up = max(given_up, bound)
        elif fate == _OPEN:
            _write(scratch.children[made], bundle, bound, at, stop, edges, int(row[8]) + 1)
            scratch.children[made, 10] = scratch.cut[0]
            at, made = stop, made + 1
    scratch.children[:made, 9] = at
    return made, given_up


@njit(cache=True)
def _push(scratch: Scratch, top: int, made: int) -> None:
    """Put the children on the stack with the most promising on top."""
    for k in range(made):
        place = top + k
        while place > top and scratch.nodes[place - 1, 4] > scratch.children[k, 4]:
            copy_row(scratch.nodes[place - 1], scratch.nodes[place])
            place -= 1
        copy_row(scratch.children[k], scratch.nodes[place])


@njit(cache=True)
def _begin(shore: Rings, frame: Frame, scratch: Scratch, quest: Quest) -> tuple[np.ndarray, np.ndarray]:
    """Write the bundle of all lines that may meet the shore; give the lists of stretches, whole rings at first."""
    rings, edges = shore.first.size, frame.u.size // 2
    first = np.empty(4 * rings + 2 * frame.u.size, np.int32)
    last = np.empty(first.size, np.int32)
    for k in range(rings):
        first[k], last[k] = -shore.first[k] - 1, shore.last[k]
    low, high = frame.v.min() - quest.cap * quest.width, frame.v.max() + quest.cap * quest.width
    bundle = Bundle(low, high, low, high, quest.left, quest.width)
    _write(scratch.nodes[0], bundle, 1.5 * quest.size / frame.norm, 0, rings, edges, 0)
    scratch.nodes[0, 9], scratch.nodes[0, 10] = rings, np.nan
    return first, last


@njit(cache=True)
def _longer(values: np.ndarray, size: int) -> np.ndarray:
    longer = np.empty(size, values.dtype)
    copy_row(values, longer)
    return longer


@njit(cache=True)
def _next(hunt: Hunt, pool: Pool, top: int, row: np.ndarray, first: np.ndarray, last: np.ndarray) -> int:
    """Move the most promising bundle, of the stack or of those that wait, to `row`; give the new top of the stack."""
    scratch, best_m, waiting = hunt.scratch, hunt.best[0], best_waiting(pool)
    if top == 0 or waiting - best_m > _FIRST_SHARE * (scratch.nodes[top - 1, 4] - best_m):
        take(pool, row, first, last, int(scratch.nodes[top - 1, 9]) if top > 0 else 0)
        return top
    copy_row(scratch.nodes[top - 1], row)
    return top - 1


@njit(cache=True)
def _wait(scratch: Scratch, pool: Pool, made: int, first: np.ndarray, last: np.ndarray) -> tuple[Pool, int]:
    """Let the small ones of the children wait in the pool; give it, and the number of those left."""
    kept = NONE
    for k in range(made):
        if scratch.children[k, 7] <= SMALL:
            pool = put(pool, scratch.children[k], first, last)
        else:
            copy_row(scratch.children[k], scratch.children[kept])
            kept += 1
    return pool, kept


@njit(cache=True, nogil=True)
def search(hunt: Hunt, tied: bool, radius: float, deepest: int, limits: SearchLimits) -> float:
    """Improve the best run by those of one frame; give a bound on the length of what was left unsearched [m].

    tied: only lines along u (a heading); else all lines within half a sector of it. radius [m]: clearance. deepest:
    number of halvings allowed.
    """
    shore, frame, scratch, best = hunt
    quest = _quest(frame, tied, radius)
    if quest.width <= 0.0:
        return 0.0
    first, last = _begin(shore, frame, scratch, quest)
    row, pool = np.empty(ROW), scratch.pool
    pool.size[0] = 0
    left_over = 0.0
    top = 1
    while top > 0 or pool.size[0] > 0:
        top = _next(hunt, pool, top, row, first, last)
        if row[4] <= best[0] * quest.slack:
            continue
        if is_over(limits) or row[4] <= best[0] * (1.0 + limits.gap) or row[8] >= deepest or top + 4 > STACK:
            left_over = max(left_over, row[4])
            continue
        need = int(row[9]) + 4 * (int(row[7]) + 8)
        if need + SMALL > first.size:
            first, last = _longer(first, 2 * need + SMALL), _longer(last, 2 * need + SMALL)
        limits.work[0] -= int(row[7]) + _WORK
        made, given_up = _split(hunt, quest, first, last, row)
        left_over = max(left_over, given_up)
        kept = made
        if radius > 0.0:
            pool, kept = _wait(scratch, pool, made, first, last)
        _push(scratch, top, kept)
        top += kept
    return left_over


@njit(cache=True)
def seed_headings(shore: Rings) -> int:
    """Give how many headings the quick look takes: few where a whole search is about as quick."""
    return 4 if shore.x.size < 200 else 16


@njit(cache=True, nogil=True)
def search_all(
    shore: Rings,
    scratch: Scratch,
    tied: bool,
    count: int,
    radius: float,
    deepest: int,
    best: np.ndarray,
    limits: SearchLimits,
) -> float:
    """Improve `best` by the runs of `count` directions spread over the half circle.

    Tied, these are headings, and a good run to begin with; else sectors, which must be SECTORS and leave no direction
    out. Gives a bound on the length of what was left unsearched [m].
    """
    left_over = 0.0
    for k in range(count):
        angle = np.pi * (k + 0.5) / count
        frame = turn(shore, np.cos(angle), np.sin(angle))
        # So that one hard direction does not leave the others unsearched.
        share = limits.work[0] // (count - k)
        part = SearchLimits(limits.halt, np.full(1, share), limits.gap)
        left_over = max(left_over, search(Hunt(shore, frame, scratch, best), tied, radius, deepest, part))
        limits.work[0] -= share - part.work[0]
    return left_over


@njit(cache=True, nogil=True)
def search_headings(
    shore: Rings,
    scratch: Scratch,
    directions: np.ndarray,
    radius: float,
    runs: np.ndarray,
    limits: SearchLimits,
) -> None:
    """Improve runs (n, 5), rows as the best of a `Hunt`, one for each of n directions (east, north)."""
    # A truth made here, not a constant, for which `search` would be compiled a second time.
    tied = directions.shape[0] > 0
    for k in range(directions.shape[0]):
        frame = turn(shore, directions[k, 0], directions[k, 1])
        search(Hunt(shore, frame, scratch, runs[k]), tied, radius, UNLIMITED, limits)
