"""The share of each criterion in a method's score. Common practice, no source: change the table, nothing else.

A weight says how much a good margin is worth, not how much the criterion matters: every hard limit vetoes alone.
"""

WEIGHTS: dict[str, float] = {
    "depth": 25.0,
    "run length": 20.0,
    "load": 15.0,
    "rotor clearance": 15.0,
    "hover payload": 15.0,
    "loads in the water": 12.0,
    "climb-out clearance": 10.0,
    "way out": 10.0,
    "approach clearance": 8.0,
    "way in": 8.0,
    "salt": 8.0,
    "supply": 12.0,
    "flow": 15.0,
    "slope": 5.0,
    "contents": 3.0,
    "on the day": 2.0,
    "level": 5.0,
    "width": 5.0,
    "crosswind": 4.0,
    "tail wind": 4.0,
    "wind strength": 4.0,
    "permission": 3.0,
    "site notes": 3.0,
    "closed areas": 2.0,
    # A veto only: where no limit of waves is known none is judged, and that must not pay.
    "waves": 0.0,
}
