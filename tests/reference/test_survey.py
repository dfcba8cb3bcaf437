"""Ports from measurements, against scipy's least squares over the same readings written
down anew, scikit-spatial's planes, and a published circle.
"""

import numpy as np
import pytest
from scipy.optimize import least_squares
from skspatial.objects import Plane, Points

from conftest import runwright
from kinematics import unit

POINT, TAPE, CALIPER = 0.5, 1.0, 0.1
LEVEL, HEADING = np.radians(0.2), np.radians(1.0)
FAR = {"center": [900, 700, 800], "outward": [-1, 0, 0]}
PINS = {"A": [0, 0, 0], "B": [450, 0, 0], "C": [0, 400, 0], "D": [430, 380, 250]}

CENTER = np.array([210.0, -85.0, 160.0])
OUTWARD = unit(np.array([0.5, -0.3, 0.8]))
TIP = 250.0


def job(measured, **keys):
    return {
        "units": "mm",
        "tube": {"od": 63.5, "wall": 1.65},
        "pins": PINS,
        "ports": {"port": {"measured": measured}, "far": FAR},
        "runs": [{"name": "run", "from": "port", "to": "far"}],
    } | keys


@pytest.fixture
def port(plan):
    """port(measured) is what plan.json has of a port that was measured so."""
    return lambda measured, **keys: plan(job(measured, **keys)).plan["ports"]["port"]


def across(axis):
    """Two unit vectors square to `axis` and to each other."""
    first = unit(np.cross(axis, np.eye(3)[np.argmin(np.abs(axis))]))
    return first, np.cross(axis, first)


def on_circle(radius, degrees):
    first, second = across(OUTWARD)
    angles = np.radians(degrees)[:, None]
    return CENTER + radius * (np.cos(angles) * first + np.sin(angles) * second)


def turned(base, a, b):
    """The direction `base` leaning by a and b, as it is written here and nowhere else."""
    first, second = across(base)
    return unit(base + a * first + b * second)


def fitted(rows, extra=()):
    """Center, direction and their covariance (center, leans) by scipy.

    rows(center, outward, *extra) gives residuals in deviations.
    """
    base = OUTWARD

    def residuals(x):
        return np.concatenate(rows(x[:3], turned(base, x[3], x[4]), *x[5:]))

    start = np.concatenate([CENTER, [0, 0], extra])
    found = least_squares(residuals, start, xtol=1e-15, ftol=1e-15, gtol=1e-15, x_scale="jac")
    outward = turned(base, *found.x[3:5])
    # Slopes about the solution, where a lean of the base is a lean of the direction.
    base = outward
    x = np.concatenate([found.x[:3], [0, 0], found.x[5:]])
    slopes = least_squares(residuals, x, jac="3-point", max_nfev=1).jac
    return found.x[:3], outward, np.linalg.inv(slopes.T @ slopes)[:5, :5]


def agrees(port, center, outward, covariance):
    np.testing.assert_allclose(port["center_mm"], center, atol=2e-6)
    np.testing.assert_allclose(port["outward"], outward, atol=2e-8)
    # Our covariance has the turn as a rotation vector w: the direction goes by w x u.
    first, second = across(outward)
    to_leans = np.zeros((5, 6))
    to_leans[:3, :3] = np.eye(3)
    to_leans[3, 3:] = np.cross(outward, first)
    to_leans[4, 3:] = np.cross(outward, second)
    ours = to_leans @ np.array(port["known"]["covariance_mm_rad"]) @ to_leans.T
    size = np.sqrt(np.outer(np.diag(covariance), np.diag(covariance)))
    # Beyond first order it depends on which way a rod's two sides are counted.
    np.testing.assert_allclose(ours / size, covariance / size, atol=1e-3)


def rim_rows(points, radius, center, outward):
    arms = points - center
    ahead = arms @ outward
    beside = np.linalg.norm(arms - np.outer(ahead, outward), axis=1)
    return [ahead / POINT, (beside - radius) / POINT]


def tape_rows(readings, place):
    return [(np.linalg.norm(place - PINS[pin]) - [d]) / TAPE for pin, d in readings.items()]


def test_a_published_circle(port):
    """Gander, Golub and Strebel, BIT 34 (1994): the geometric fit, in tenths of theirs."""
    points = [[1, 7], [2, 6], [5, 8], [7, 7], [9, 5], [3, 7]]
    rim = [[10 * x, 10 * y, 0] for x, y in points]
    # The points are a centimeter off any circle: nobody is blamed for that.
    found = port({"rim": rim, "outward": [0, 0, 1]}, measuring={"point": 12})
    np.testing.assert_allclose(found["center_mm"], [47.39782, 29.83533, 0], atol=6e-6)
    assert found["measured"]["rim_diameter_mm"] == pytest.approx(94.28452, abs=2e-5)


def test_points_of_a_plane_agree_with_scikit_spatial(port):
    noise = np.random.default_rng(1)
    points = on_circle(31.75, [0, 40, 110, 180, 250, 300]) + noise.normal(0, POINT, (6, 3))
    found = port({"rim": points.tolist(), "toward": OUTWARD.tolist()})
    plane = Plane.best_fit(Points(points))
    normal = np.array(plane.normal) * np.sign(plane.normal @ OUTWARD)
    # The circle's roundness has a say in the plane too, to second order.
    assert np.degrees(np.arccos(min(1, normal @ found["outward"]))) < 0.05
    assert abs(plane.distance_point(found["center_mm"])) < 0.01


@pytest.mark.parametrize("seed", range(5))
def test_rim_points_with_a_caliper(port, seed):
    noise = np.random.default_rng(seed)
    points = on_circle(31.75, [0, 70, 150, 220, 290]) + noise.normal(0, POINT, (5, 3))
    found = port(
        {"rim": points.tolist(), "rim_diameter": 63.6, "toward": OUTWARD.tolist()}
    )

    def rows(center, outward, radius):
        return [*rim_rows(points, radius, center, outward), [(radius - 31.8) / (CALIPER / 2)]]

    agrees(found, *fitted(rows, [31.75]))


@pytest.mark.parametrize("seed", range(5))
def test_tapes_from_pins(port, seed):
    noise = np.random.default_rng(100 + seed)
    tip_at = CENTER + TIP * OUTWARD
    read = lambda place: {
        pin: np.linalg.norm(place - at) + noise.normal(0, TAPE) for pin, at in PINS.items()
    }
    center, tip = read(CENTER), read(tip_at)
    tape = [{"pin": pin, "center": center[pin], "tip": tip[pin]} for pin in PINS]
    found = port({"tape": tape, "tip": 250.6, "near": CENTER.tolist()})

    def rows(c, outward, out):
        tip_rows = tape_rows(tip, c + out * outward)
        return [*tape_rows(center, c), *tip_rows, [(out - 250.6) / TAPE]]

    agrees(found, *fitted(rows, [TIP]))
    assert found["measured"]["spare"] == 3


@pytest.mark.parametrize("seed", range(5))
def test_a_mix_of_everything(port, seed):
    noise = np.random.default_rng(200 + seed)
    touch = lambda at: at + noise.normal(0, POINT, 3)
    rod = [touch(CENTER + out * OUTWARD) for out in (0, 180, 300)]
    laid = [touch(CENTER + [3, 5, -7] + out * OUTWARD) for out in (-40, 220)]
    bolts = on_circle(47.6, [45, 165, 285]) + noise.normal(0, POINT, (3, 3))
    level = np.degrees(np.arcsin(OUTWARD[2])) + noise.normal(0, 0.2)
    # Clockwise from +y, seen from above: +x is at 90.
    heading = np.degrees(np.arctan2(OUTWARD[0], OUTWARD[1])) + noise.normal(0, 1)
    z = CENTER[2] + noise.normal(0, POINT)
    measured = {
        "center": [None, None, z],
        "rod": [{"at": list(rod[0]), "out": 0}, {"at": list(rod[1])}, {"at": list(rod[2]), "out": "30 cm"}],
        "laid_rod": [list(at) for at in laid],
        "bolts": bolts.tolist(),
        "bolt_circle": 95.2,
        "level": level,
        "heading": heading,
    }
    found = port(measured, ahead=[0, 1, 0])

    def beside(at, foot, outward):
        arm = at - foot
        return [side @ arm / POINT for side in across(outward)]

    def rows(center, outward, radius, p, q):
        first, second = across(OUTWARD)
        foot = center + p * first + q * second
        off = np.hypot(POINT, TAPE)
        rise = np.arcsin(outward[2]) - np.radians(level)
        course = np.arctan2(outward[0], outward[1]) - np.radians(heading)
        return [
            [(center[2] - z) / POINT],
            *[beside(at, center, outward) for at in rod],
            [(rod[0] - center) @ outward / off, ((rod[2] - center) @ outward - 300) / off],
            *[beside(at, foot, outward) for at in laid],
            *rim_rows(bolts, radius, center, outward),
            [(radius - 47.6) / (CALIPER / 2), rise / LEVEL, course / HEADING],
        ]

    agrees(found, *fitted(rows, [47.6, 0, 0]))


def test_angles_mean_what_the_readme_says(port):
    """Azimuth from +x toward +y, elevation toward +z; heading clockwise from ahead."""
    numbers = {"center": [10, 20, 30], "outward": [np.cos(0.5) * 0.6, np.sin(0.5) * 0.6, 0.8]}
    rise = np.degrees(np.arcsin(0.8))
    azimuth = np.degrees(0.5)
    for angles in (
        {"azimuth": azimuth, "elevation": rise},
        {"level": rise, "heading": -azimuth},
        {"level": rise, "heading": 360 - azimuth},
    ):
        found = port({"center": [10, 20, 30], "outward": angles})
        np.testing.assert_allclose(found["outward"], numbers["outward"], atol=1e-12)
