"""Copies against least squares set up anew from the readings alone: scipy's trust region
solver with slopes by differences, and best lines by scikit-spatial."""

import json

import numpy as np
import pytest
from scipy.optimize import least_squares
from skspatial.objects import Line, Points

from conftest import REPOSITORY
from jobs import millimeters
from kinematics import unit

# As firm as an end must be for scipy to hold it to 1e-6 mm and still see the points.
END_MM, END_RAD = 1e-4, 1e-6


def off_line(point, a, b):
    """From the line through a and b to a point."""
    along = unit(b - a)
    way = point - a
    return way - along * (way @ along)


def ends_left(vertices, job):
    """Ends that are given without scatter: as good as exact."""
    left = []
    for port, face, following in ((job["from"], 0, 1), (job["to"], -1, -2)):
        center, outward = port
        left.append((vertices[face] - center) / END_MM)
        left.append(np.cross(outward, unit(vertices[following] - vertices[face])) / END_RAD)
    return np.concatenate(left)


def fitted(readings, start, job):
    """Vertices with the least squares, and their covariance."""

    def left(x):
        vertices = x.reshape(-1, 3)
        return np.concatenate([ends_left(vertices, job), readings(vertices)])

    found = least_squares(
        left, np.ravel(start), jac="3-point", method="trf", xtol=1e-15, ftol=1e-15, gtol=1e-15
    )
    return found.x.reshape(-1, 3), np.linalg.pinv(found.jac.T @ found.jac, rcond=1e-18), 2 * found.cost


def ports_of(job):
    run = job["runs"][0]

    def port(name):
        given = job["ports"][name]
        return np.array([millimeters(job, x) for x in given["center"]]), unit(np.array(given["outward"]))

    return {"from": port(run["from"]), "to": port(run["to"])}


def compare(plan, job, readings, rng):
    """The program's joints against scipy's, which begins a few millimeters off."""
    exact = {"good_to": {"center": 0, "outward": 0}}
    job = job | {"ports": {name: port | exact for name, port in job["ports"].items()}}
    run = plan(job).run
    vertices = np.array(run["vertices_mm"])
    start = vertices + rng.normal(0, 2, vertices.shape)
    found, covariance, squares = fitted(readings, start, ports_of(job))
    assert np.abs(found - vertices).max() < 1e-6
    assert run["copied"]["chi_square"] == pytest.approx(squares, rel=1e-6)
    for joint in run["copied"]["joints"]:
        i = 3 * joint["number"]
        theirs = covariance[i : i + 3, i : i + 3]
        # Slopes by differences, and ends not quite exact.
        assert np.abs(theirs - joint["covariance_mm2"]).max() < 1e-3 * np.abs(theirs).max()
    return run


def bent(job_more):
    """A tube of 60 mm with three joints, mm."""
    vertices = np.array([[0, 0, 0], [0, 0, 150], [60, 0, 260], [170, 40, 330], [330, 50, 340]], float)
    job = {
        "units": "mm",
        "tube": {"od": 60, "wall": 2},
        "ports": {
            "a": {"center": [0, 0, 0], "outward": [0, 0, 1]},
            "b": {"center": list(vertices[-1]), "outward": list(unit(vertices[-2] - vertices[-1]))},
        },
        "shop": {"max_cut": 40},
        "runs": [{"name": "old", "from": "a", "to": "b", "copy": job_more}],
    }
    return vertices, job


def test_points_on_the_outside(plan):
    rng = np.random.default_rng(3)
    job = json.loads((REPOSITORY / "examples/copy.json").read_text())
    pieces = [np.array(piece) * 25.4 for piece in job["runs"][0]["copy"]["pieces"]]
    radius = job["tube"]["od"] * 25.4 / 2

    def readings(vertices):
        left = []
        for piece, a, b in zip(pieces, vertices[:-1], vertices[1:], strict=True):
            left += [(np.linalg.norm(off_line(p, a, b)) - radius) / 0.5 for p in piece]
        return np.array(left)

    compare(plan, job, readings, rng)


def test_points_of_the_centerline(plan):
    rng = np.random.default_rng(4)
    vertices, job = bent({"accuracy": 0.4})
    points, of = [], []
    for piece, (a, b) in enumerate(zip(vertices[:-1], vertices[1:], strict=True)):
        for part in np.linspace(0.08, 0.92, 9):
            points.append(a + (b - a) * part + rng.normal(0, 0.4, 3))
            of.append(piece)
    job["runs"][0]["copy"]["centerline"] = [list(p) for p in points]

    def readings(found):
        left = [off_line(p, found[i], found[i + 1]) / 0.4 for p, i in zip(points, of, strict=True)]
        return np.concatenate(left)

    run = compare(plan, job, readings, rng)
    # Each inner piece's own line, and how far apart neighbors pass.
    lines = [Line.best_fit(Points([p for p, i in zip(points, of, strict=True) if i == piece])) for piece in range(4)]
    for joint in run["copied"]["joints"]:
        before, after = lines[joint["number"] - 1], lines[joint["number"]]
        assert joint["apart_mm"] == pytest.approx(before.distance_line(after), abs=1e-6)


def test_joints(plan):
    rng = np.random.default_rng(5)
    vertices, job = bent({"accuracy": 0.6})
    joints = vertices[1:-1] + rng.normal(0, 0.6, (3, 3))
    job["runs"][0]["copy"]["joints"] = [list(p) for p in joints]

    def readings(found):
        return np.ravel(found[1:-1] - joints) / 0.6

    compare(plan, job, readings, rng)
