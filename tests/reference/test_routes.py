"""Planned runs against the shortest routes of true arcs, found anew with scipy.

A miter-cut bend is the tangent polygon of its arc and longer than the arc, so no run of
two bends can be shorter than the shortest route of two arcs; and with ever smaller cuts
it comes as near as you like. (A third bend can pay only between ports within a few radii
of each other, closer than these.)
"""

from dataclasses import dataclass
from itertools import product

import numpy as np
import pytest
from scipy.optimize import minimize

from kinematics import unit


@dataclass(frozen=True)
class Case:
    """From one pose to another with bends of one CLR. Tangents are directions of
    travel, so the last port's outward direction is the end tangent's negative."""

    clr: float
    start: tuple
    start_tangent: tuple
    end: tuple
    end_tangent: tuple
    length: float

    def job(self, od, shop):
        def port(center, outward):
            return {"center": list(center), "outward": list(outward), "straight": 0}

        return {
            "units": "mm",
            "tube": {"od": od, "wall": od / 20},
            "ports": {
                "a": port(self.start, unit(self.start_tangent)),
                "b": port(self.end, -unit(self.end_tangent)),
            },
            "runs": [{"name": "run", "from": "a", "to": "b", "clr": self.clr}],
            "shop": shop,
        }


def heading(degrees, pitch):
    across, up = np.radians([degrees, pitch])
    return tuple(np.cos(up) * np.array([np.cos(across), np.sin(across), np.tan(up)]))


# Lengths computed; a second, independent university implementation of the Hota & Ghose
# 2010 construction agrees to 3e-8.
SPATIAL = {
    "A": Case(76.2, (0, 0, 0), (1, 0, 0), (300, 150, 80), (0, 1, 0), 365.793979813),
    "B": Case(76.2, (0, 0, 0), (0, 0, 1), (200, 100, 250), (1, 0, 0), 350.696230560),
    "C": Case(95.25, (0, 0, 0), (0, 0, -1), (250, -180, -320), (1, 2, -2), 484.111730465),
    "D": Case(114.3, (0, 0, 0), (1, 0, 0), (400, 120, -90), (1, 0, 0), 429.256398979),
}

CASES = SPATIAL | {
    # Vana et al., ICRA 2020: instances of comrob/Dubins3D.jl (inputs seen), optimum
    # computed. The lengths published there, 449.56 and 636.12, also obey a pitch limit.
    "vana-1": Case(
        40, (200, 500, 200), heading(180, -5), (500, 350, 100), heading(0, -5), 437.858375
    ),
    "vana-2": Case(
        40, (100, -400, 100), heading(30, 0), (500, -700, 0), heading(150, 0), 631.727667
    ),
    # Planar: the MIT-licensed C core of the Python package dubins 1.0.1 (run).
    "planar-1": Case(95.25, (0, 0, 0), (1, 0, 0), (250, 200, 0), (1, 0, 0), 334.295109203),
    "planar-2": Case(3, (0, 0, 0), (1, 0, 0), (10, 10, 0), (0, 1, 0), 14.611883917),
    "planar-3": Case(2, (0, 0, 0), (0, 1, 0), (5, -5, 0), (-1, 0, 0), 13.667418648),
}

every_case = pytest.mark.parametrize("case", CASES.values(), ids=CASES.keys())
every_spatial_case = pytest.mark.parametrize("case", SPATIAL.values(), ids=SPATIAL.keys())


def shortest(case):
    """Length of the shortest route of two arcs.

    Variables are s and t, how far the two corners lie out along the end tangents; the
    constraints are that no straight is negative.
    """
    p0, p1 = np.array(case.start, float), np.array(case.end, float)
    d0, d1 = unit(case.start_tangent), unit(case.end_tangent)
    chord = np.linalg.norm(p1 - p0)

    def measure(x):
        s, t = x * chord
        between = (p1 - t * d1) - (p0 + s * d0)
        turns = np.array([angle(d0, between), angle(between, d1)])
        # A corner can turn by less than half a turn only.
        taken = case.clr * np.tan(np.minimum(turns, np.radians(179)) / 2)
        straights = np.array([s, np.linalg.norm(between), t]) - [taken[0], taken.sum(), taken[1]]
        return straights, straights.sum() + case.clr * turns.sum()

    best = np.inf
    for seed in product([0.1, 0.4, 1, 2], repeat=2):
        found = minimize(
            lambda x: measure(x)[1] / chord,
            np.array(seed),
            method="SLSQP",
            bounds=[(0, None)] * 2,
            constraints={"type": "ineq", "fun": lambda x: measure(x)[0] / chord},
            options={"ftol": 1e-14, "maxiter": 500},
        )
        straights, length = measure(found.x)
        if straights.min() >= -1e-9 * chord:
            best = min(best, length)
    return best


def angle(a, b):
    return np.arctan2(np.linalg.norm(np.cross(a, b)), np.dot(a, b))


@every_case
def test_scipy_finds_the_known_shortest_length(case):
    assert shortest(case) == pytest.approx(case.length, rel=1e-7)


@every_case
def test_no_run_is_shorter_than_its_arcs(plan, case):
    """With the cuts that a shop makes: usual 9°, greatest 11.25°."""
    run = plan(
        case.job(od=case.clr / 3, shop={"usual_cut": 9, "max_cut": 11.25, "min_short_side": 0})
    ).run
    assert run["length_mm"] >= shortest(case) - 1e-6


@every_spatial_case
def test_small_cuts_approach_the_arcs(plan, case):
    """Where only tube costs and cuts are 1° at most, the run is the shortest there is."""
    shop = {
        "usual_cut": 1,
        "max_cut": 1,
        "min_short_side": 0.1,
        "kerf": 0,
        "rates": {"labor_per_hour": 0},
    }
    length = plan(case.job(od=case.clr / 8, shop=shop)).run["length_mm"]
    assert case.length - 1e-6 <= length <= case.length * 1.001

    # More sharply: a bend of turn θ cut at κ is CLR·θ·tan κ/κ long, so the tangent
    # polygons of those two arcs, one choice among others, add at most this part.
    excess = np.tan(np.radians(1)) / np.radians(1) - 1
    assert length <= case.length * (1 + excess)
