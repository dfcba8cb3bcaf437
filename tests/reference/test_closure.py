"""The piece that closes a run, from what was built of it: ends and axis against scipy's
least squares written down anew, solids by manifold3d, patterns by svgpathtools.
"""

import json
import re
from dataclasses import dataclass
from pathlib import Path

import jsonschema
import numpy as np
import pytest
import trimesh
from manifold3d import Manifold
from scipy.optimize import brentq, least_squares, minimize
from svgpathtools import svg2paths

from built import End, leaning, random_gap, sides, touched, turned_to
from conftest import runwright
from jobs import OFFSET, STACK, TWISTED
from kinematics import turned, unit
from test_meshes import SINGLE_MM, assert_closed, manifold
from test_patterns import EDGE_MM, WRITTEN_MM, Pattern

OD, WALL = 63.5, 1.65
RADIUS = OD / 2
POINT, CALIPER = 0.5, 0.1
SAW, AS_PLANNED = np.radians(0.25), np.radians(4)
SIDES = ("before", "after")
# Whatever a random gap needs may be welded, so that both ends are kept as they are.
AS_THEY_ARE = {"high_low": 10}


@dataclass(frozen=True)
class Closed:
    """What `runwright close` wrote."""

    folder: Path
    found: dict

    @property
    def ends(self):
        return [End.of(end) for end in self.found["ends"]]

    @property
    def piece(self):
        return self.found["closure"]

    @property
    def start(self):
        return np.array(self.piece["start_mm"])

    @property
    def axis(self):
        return np.array(self.piece["axis"])

    def out(self, clocks):
        """Directions from the piece's axis to its sides at `clocks`, in degrees."""
        zero = np.array(self.piece["zero"])
        return np.array([turned(zero, self.axis, clock) for clock in np.atleast_1d(clocks)])

    def edges(self, clocks):
        """Where the outside of its start and of its end are, by its cuts alone."""
        side = self.start + RADIUS * self.out(clocks)
        return [side + np.outer(height, self.axis) for height in heights(self.piece, clocks)]


def heights(sleeve, clocks, radius=RADIUS):
    """Of both edges over the center of the start: -r·tan κ₁·cos(t - τ₁) and
    L + r·tan κ₂·cos(t - τ₂)."""
    start, end = (
        radius
        * np.tan(np.radians(edge["cut_deg"]))
        * np.cos(np.radians(clocks - edge["long_side_deg"]))
        for edge in (sleeve["start"], sleeve["end"])
    )
    return -start, sleeve["length_mm"] + end


@pytest.fixture
def close(tmp_path):
    """close(built, *options) closes a gap and returns what was written."""

    def run_close(built, *options):
        folder = tmp_path / f"close-{len(list(tmp_path.iterdir()))}"
        folder.mkdir()
        file, out = folder / "built.json", folder / "out"
        file.write_text(json.dumps(built))
        runwright("close", file, "-o", out, *options)
        return Closed(out, json.loads((out / "closure.json").read_text()))

    return run_close


def gap_file(ends, random, sigma=0.0, cuts=("miter", "miter"), **keys):
    """The input for two measured ends, without a job."""
    before, after = (
        {
            "cut": cut,
            "measured": touched(end, RADIUS, random, sigma) | {"toward": end.axis.tolist()},
        }
        for end, cut in zip(ends, cuts, strict=True)
    )
    tube = {"od": OD, "wall": WALL}
    return {"units": "mm", "tube": tube, "before": before, "after": after} | keys


# --- the ends ---


def outside_row(points, radius, end):
    """How far points are off the tube's outside."""
    arms = points - end.center
    return (np.linalg.norm(np.cross(arms, end.axis), axis=1) - radius) / POINT


def to_first_order(feet, radius, end):
    """How far points of the rim's plane are off its ellipse: how far they are off the
    tube's outside, which crosses the plane at a slant."""
    flat = feet - np.outer(feet @ end.axis, end.axis)
    off_axis = np.linalg.norm(flat, axis=1)
    sine = flat @ end.normal / off_axis
    return (off_axis - radius) / np.sqrt(1 - sine**2)


def by_nearest_point(feet, radius, end):
    """The same to the ellipse's nearest point, half axes r/cos κ and r."""
    cosine = end.axis @ end.normal
    if 1 - cosine < 1e-12:
        return np.linalg.norm(feet, axis=1) - radius
    long = unit(end.axis - cosine * end.normal)
    x, y = feet @ long, feet @ np.cross(end.normal, long)
    a, b = radius / cosine, radius
    distances = []
    for px, py in zip(x, y, strict=True):
        # Square to the ellipse at (a cos t, b sin t), within a little of the same side.
        lean = lambda t: (b * b - a * a) * np.cos(t) * np.sin(t) + a * px * np.sin(t) - b * py * np.cos(t)
        near = np.arctan2(a * py, b * px)
        t = brentq(lean, near - 0.2, near + 0.2, xtol=1e-14)
        off = np.array([px - a * np.cos(t), py - b * np.sin(t)])
        out = off @ [b * np.cos(t), a * np.sin(t)]
        distances.append(np.copysign(np.linalg.norm(off), out))
    return np.array(distances)


def rim_rows(points, radius, end, off_ellipse=to_first_order):
    """How far points are ahead of the rim's plane, and outside its edge within it."""
    ahead = (points - end.center) @ end.normal
    feet = points - end.center - np.outer(ahead, end.normal)
    return [ahead / POINT, off_ellipse(feet, radius, end) / POINT]


def angle(a, b):
    return np.arctan2(np.linalg.norm(np.cross(a, b)), a @ b)


def fitted(touched, near, square=False, also=lambda _: [], off_ellipse=to_first_order):
    """An end by scipy from what was touched of it, starting near one; `also(end)` gives
    what else is known of it, in deviations."""
    rim, outside = np.array(touched["rim"]), np.array(touched["outside"])

    def unpacked(x, base):
        axis = turned_to(base.axis, *x[3:5])
        normal = axis if square else turned_to(base.normal, *x[5:7])
        return End(x[:3], axis, normal), x[-1]

    def residuals(x, base):
        end, radius = unpacked(x, base)
        rows = rim_rows(rim, radius, end, off_ellipse)
        caliper = (radius - RADIUS) / (CALIPER / 2)
        return np.hstack([*rows, outside_row(outside, radius, end), caliper, *also(end)])

    end, radius = near, RADIUS
    # Once more from where it ended, so that leans are small.
    for _ in range(3):
        start = np.hstack([end.center, np.zeros(2 if square else 4), radius])
        found = least_squares(
            residuals, start, args=(end,), jac="3-point", xtol=1e-15, ftol=1e-15, gtol=1e-15, x_scale="jac"
        )
        end, radius = unpacked(found.x, end)
    return end


def assert_same(ours, theirs, mm=1e-5, rad=1e-7):
    np.testing.assert_allclose(ours.center, theirs.center, atol=mm)
    np.testing.assert_allclose(ours.axis, theirs.axis, atol=rad)
    np.testing.assert_allclose(ours.normal, theirs.normal, atol=rad)


def saw_angle(degrees):
    return lambda end: [(angle(end.axis, end.normal) - np.radians(degrees)) / SAW]


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("saw_is_known", [False, True], ids=["miter", "saw"])
def test_mitered_ends(close, seed, saw_is_known):
    random = np.random.default_rng(seed)
    ends = random_gap(random)
    saw = [end.cut + random.normal(0, 0.25) for end in ends]
    cuts = [f"{cut} deg" for cut in saw] if saw_is_known else ["miter", "miter"]
    built = gap_file(ends, random, sigma=POINT, cuts=cuts, fit_up=AS_THEY_ARE)
    closed = close(built)
    for side, ours, true, cut in zip(SIDES, closed.ends, ends, saw, strict=True):
        touched = built[side]["measured"]
        also = saw_angle(cut) if saw_is_known else lambda _: []
        assert_same(ours, fitted(touched, true, also=also))
        assert np.linalg.norm(ours.center - true.center) < 4 * POINT
        # The first order of the distance to the ellipse is as good as all of it.
        exact = fitted(touched, true, also=also, off_ellipse=by_nearest_point)
        assert_same(ours, exact, mm=0.003, rad=5e-5)


@pytest.mark.parametrize("seed", range(8))
def test_square_ends(close, seed):
    random = np.random.default_rng(100 + seed)
    ends = [End(end.center, end.axis, end.axis) for end in random_gap(random, lean=(2, 10))]
    built = gap_file(ends, random, sigma=POINT, cuts=["square"] * 2, fit_up=AS_THEY_ARE)
    closed = close(built)
    for side, ours, true in zip(SIDES, closed.ends, ends, strict=True):
        assert_same(ours, fitted(built[side]["measured"], true, square=True))


@pytest.mark.parametrize("seed", range(8))
def test_exact_points_give_the_true_ends(close, seed):
    random = np.random.default_rng(200 + seed)
    ends = random_gap(random)
    closed = close(gap_file(ends, random, fit_up=AS_THEY_ARE))
    for ours, true in zip(closed.ends, ends, strict=True):
        assert_same(ours, true)
