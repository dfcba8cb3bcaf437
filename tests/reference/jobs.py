"""The jobs that the checks run on, and their lengths in millimeters."""

import json
from fractions import Fraction
from pathlib import Path

import numpy as np

from kinematics import unit

STACK = json.loads((Path(__file__).resolve().parents[2] / "examples/stack.json").read_text())

OFFSET = {
    "units": "in",
    "tube": {"od": 2.5, "wall": 0.065},
    "ports": {
        "a": {"center": [0, 0, 0], "outward": [0, 0, 1]},
        "b": {"center": [6, 0, 20], "outward": [0, 0, -1]},
    },
    "runs": [{"name": "offset", "from": "a", "to": "b"}],
}

U_TURN = {
    "units": "in",
    "tube": {"od": 2.5, "wall": 0.065},
    "ports": {
        "a": {"center": [0, 0, 0], "outward": [0, 0, 1]},
        "b": {"center": [10, 0, 0], "outward": [0, 0, 1]},
    },
    "runs": [{"name": "u-turn", "from": "a", "to": "b"}],
}

# The inside edge of the bend is half an inch from the center of the arc.
TIGHT = {
    "units": "in",
    "tube": {"od": 3, "wall": 0.065},
    "ports": {
        "a": {"center": [0, 0, 0], "outward": [0, 0, 1]},
        "b": {"center": [8, 0, 8], "outward": [-1, 0, 0]},
    },
    "runs": [{"name": "tight", "from": "a", "to": "b", "clr": 2}],
}

METRIC = {
    "units": "mm",
    "tube": {"od": 76.2, "wall": 1.65},
    "ports": {
        "a": {"center": [-40, 15, 5], "outward": [1, 0, 0]},
        "b": {"center": [260, 15, 255], "outward": [0, 0, -1]},
    },
    "runs": [{"name": "metric", "from": "a", "to": "b"}],
}

# No axis lies along a coordinate, no two bends in one plane.
TWISTED = {
    "units": "mm",
    "tube": {"od": 48.3, "wall": 1.6},
    "ports": {
        "a": {"center": [10, 20, -30], "outward": [0.6, 0.64, 0.48]},
        "b": {"center": [320, -220, 310], "outward": [-0.48, 0.8, -0.36]},
    },
    "runs": [{"name": "twisted", "from": "a", "to": "b", "clr": 90}],
}

# Everything that makes a piece longer or shorter than its edge.
FITTED = {
    "units": "in",
    "tube": {"od": "2 1/2", "wall": 0.065},
    "ports": {
        "a": {"center": [0, 0, 0], "outward": [0, 0, 1], "socket": "1/2"},
        "b": {"center": ["8 1/2", 4, 10], "outward": [-1, 0, 0], "socket": "10 mm"},
    },
    "runs": [{"name": "fitted", "from": "a", "to": "b"}],
    "shop": {"kerf": "3/32", "gap": "1/32", "shrinkage": "0.2 mm"},
}

PAIR = {
    "units": "mm",
    "tube": {"od": 42.4, "wall": 1.5},
    "ports": {
        "a1": {"center": [0, 0, 0], "outward": [0, 0, 1]},
        "b1": {"center": [150, 80, 200], "outward": [-1, 0, 0]},
        "a2": {"center": [0, -150, 0], "outward": [0, 0, 1]},
        "b2": {"center": [180, -150, 240], "outward": [0, 0, -1]},
    },
    "runs": [
        {"name": "left", "from": "a1", "to": "b1"},
        {"name": "right", "from": "a2", "to": "b2", "tube": {"od": 38.1, "wall": 1.2}},
    ],
}

# One straight tube, square at both ends.
STRAIGHT = {
    "units": "in",
    "tube": {"od": 2.5, "wall": 0.065},
    "ports": {
        "a": {"center": [0, 0, 0], "outward": [0, 0, 1]},
        "b": {"center": [0, 0, 30], "outward": [0, 0, -1]},
    },
    "runs": [{"name": "straight", "from": "a", "to": "b"}],
}

JOBS = {
    "stack": STACK,
    "offset": OFFSET,
    "u-turn": U_TURN,
    "tight": TIGHT,
    "metric": METRIC,
    "twisted": TWISTED,
    "fitted": FITTED,
    "pair": PAIR,
}

UNITS = {"in": Fraction("25.4"), "mm": Fraction(1)}


def millimeters(job, value):
    """A length of a job in mm: 4, "8 1/2" or "10 mm"."""
    *words, last = str(value).split()
    unit = UNITS[last] if last in UNITS else UNITS[job["units"]]
    words = words if last in UNITS else [*words, last]
    return float(sum(map(Fraction, words)) * unit)


def elbow(od, clr, cut):
    """A job in mm for one 90 degree bend and nothing else, every joint cut at `cut`."""
    return {
        "units": "mm",
        "tube": {"od": od, "wall": od / 40},
        "ports": {
            "a": {"center": [0, 0, 0], "outward": [0, 0, 1], "straight": 0},
            "b": {"center": [clr, 0, clr], "outward": [-1, 0, 0], "straight": 0},
        },
        "runs": [{"name": "elbow", "from": "a", "to": "b", "clr": clr, "max_bends": 1}],
        "shop": {"usual_cut": cut, "max_cut": cut},
    }


def random_job(seed, **run):
    """Two ports 0.3 to 0.7 m apart that face any way, in the default shop; `run` adds
    to the run's keys."""
    random = np.random.default_rng(seed)

    def direction():
        while True:
            vector = random.uniform(-1, 1, 3)
            if 0.1 < np.linalg.norm(vector) < 1:
                return vector

    od = float(random.choice([38.1, 50.8, 63.5, 76.2]))
    center = unit(direction()) * random.uniform(300, 700)

    def port(center):
        return {
            "center": np.round(center, 1).tolist(),
            "outward": np.round(unit(direction()), 4).tolist(),
        }

    return {
        "units": "mm",
        "tube": {"od": od, "wall": 1.65},
        "ports": {"a": port(np.zeros(3)), "b": port(center)},
        "runs": [{"name": "run", "from": "a", "to": "b"} | run],
    }
