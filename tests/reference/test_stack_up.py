"""How far off a run may end, against builds that scipy's rotations put together from
nothing but lengths, deflections, clocks and arcs of the plan, each with an error of its own.
"""

import json
from dataclasses import dataclass

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from conftest import EXAMPLES
from jobs import OFFSET, STACK, TWISTED, U_TURN
from kinematics import across, unit

X, Y, Z = np.eye(3)
BUILDS = 20_000
# What a tenth of the usual errors leaves to be seen beyond first order.
SMALL = {"cut": 0.025, "setting": 0.01, "length": "0.05 mm", "clock": 0.1, "bend": 0.05}

ELBOWS = {
    "units": "mm",
    "tube": {"od": 60.3, "wall": 2.77},
    "ports": {
        "a": {"center": [0, 0, 0], "outward": [0, 0, 1]},
        "b": {"center": [500, 300, 700], "outward": [-1, 0, 0]},
    },
    "runs": [{"name": "elbows", "from": "a", "to": "b", "made_of": "stock"}],
    "shop": {"bends": [{"b16_9": "2 LR 90", "price": 12}]},
}

JOBS = {"stack": STACK, "offset": OFFSET, "u-turn": U_TURN, "twisted": TWISTED, "elbows": ELBOWS}


def port_scatter(plan, run):
    """Covariance at the far face of what is not known of the two ports."""
    first, last = (plan["ports"][run[end]] for end in ("from", "to"))
    arm = run["ends"][1]["center_mm"] - np.array(run["ends"][0]["center_mm"])
    carry = np.eye(6)
    # A turn w carries the end of the arm by w x arm.
    carry[:3, 3:] = np.cross(np.eye(3), arm).T
    known = [np.array(port["known"]["covariance_mm_rad"]) for port in (first, last)]
    return carry @ known[0] @ carry.T + known[1]


def with_accuracy(job, accuracy):
    return job | {"shop": job.get("shop", {}) | {"accuracy": accuracy}}


@dataclass
class Errors:
    """One row a build; joints count from 0 and pieces too."""

    cut: np.ndarray
    clock: np.ndarray
    faces: np.ndarray
    length: np.ndarray
    bend: np.ndarray

    @classmethod
    def none(cls, builds, joints):
        zeros = np.zeros((builds, joints))
        faces = np.zeros((builds, joints, 2, 2))
        return cls(zeros.copy(), zeros.copy(), faces, zeros.copy(), zeros.copy())


def about(axis, angles):
    return Rotation.from_rotvec(np.multiply.outer(angles, axis))


def leaning(lean):
    """The least turn about an axis square to the tube: `lean` is its rotation vector."""
    return Rotation.from_rotvec(np.column_stack([lean, np.zeros(len(lean))]))


def first_frame(run):
    """z downstream, x toward where the first bend goes."""
    axes = [unit(edge) for edge in np.diff(np.array(run["vertices_mm"]), axis=0)]
    bends = (axis for axis in axes if np.linalg.norm(np.cross(axis, axes[0])) > 1e-6)
    x = across(next(bends), axes[0])
    return np.column_stack([x, np.cross(axes[0], x), axes[0]])


def ends(run, sockets, errors):
    """Center and frame of the last face of every build."""
    builds = len(errors.cut)
    arcs = {arc["piece"]: arc for arc in run["bends"]}
    turn = Rotation.from_matrix(np.repeat(first_frame(run)[None], builds, axis=0))
    if not sockets[0]:
        turn = turn * leaning(errors.faces[:, 0, 0])
    point = np.repeat(np.array(run["vertices_mm"][:1], float), builds, axis=0)
    joints = run["joints"]
    for i, piece in enumerate(run["pieces"]):
        arc = arcs.get(piece["number"])
        if arc is None:
            along = piece["length_mm"] + errors.length[:, i]
        else:
            before, after = arc["legs_mm"]
            clr, angle = arc["clr_mm"], np.radians(arc["turn_deg"]) + errors.bend[:, i]
            turn = turn * about(Z, np.radians(joints[i]["clock_deg"]) + errors.clock[:, i])
            point = point + before * turn.apply(Z)
            inward = np.multiply.outer(1 - np.cos(angle), X)
            point = point + clr * turn.apply(inward + np.multiply.outer(np.sin(angle), Z))
            turn = turn * about(Y, angle)
            along = after + errors.length[:, i]
        point = point + np.asarray(along).reshape(-1, 1) * turn.apply(Z)
        joint = joints[i + 1]
        if joint["kind"] == "miter":
            turn = turn * about(Z, np.radians(joint["clock_deg"]) + errors.clock[:, i + 1])
            # One saw cut: its angle counts on either side.
            saw = np.radians(joint["cut_deg"]) + errors.cut[:, i + 1]
            turn = turn * about(Y, saw) * about(Y, saw)
        elif joint["kind"] == "square":
            for face in range(2):
                turn = turn * leaning(errors.faces[:, i + 1, face])
        elif not sockets[1]:
            turn = turn * leaning(errors.faces[:, i + 1, 0])
    return point, turn


def sockets(plan, run):
    """Whether the tube goes into its ports, where square faces bear nothing."""
    return [plan["ports"][run[end]]["socket_mm"] > 0 for end in ("from", "to")]


def motions(run, sockets, errors):
    """Shift and turn of the last face off the plan."""
    (plan_point,), plan_turn = ends(run, sockets, Errors.none(1, len(run["joints"])))
    assert np.linalg.norm(plan_point - run["vertices_mm"][-1]) < 1e-6
    point, turn = ends(run, sockets, errors)
    return np.hstack([point - plan_point, (turn * plan_turn[0].inv()).as_rotvec()])


def settings(run):
    """Which joints each of the saw's settings makes."""
    groups = {}
    for joint in run["joints"]:
        if joint["kind"] == "miter":
            groups.setdefault(round(joint["cut_deg"], 4), []).append(joint["number"])
    return list(groups.values())


def slopes(plan, run):
    """What each error of one standard deviation moves, by central differences."""
    accuracy = plan["accuracy"]
    joints = len(run["joints"])
    steps = []

    def step(name, where, size):
        if size:
            steps.append((name, where, size))

    lean = np.radians(accuracy["cut_deg"]) / np.sqrt(2)
    for j in range(joints):
        step("cut", [(j,)], np.radians(accuracy["cut_deg"]))
        step("clock", [(j,)], np.radians(accuracy["clock_deg"]))
        step("length", [(j,)], accuracy["length_mm"])
        step("bend", [(j,)], np.radians(accuracy["bend_deg"]))
        for face in range(2):
            for axis in range(2):
                step("faces", [(j, face, axis)], lean)
    for group in settings(run):
        step("cut", [(j,) for j in group], np.radians(accuracy["setting_deg"]))
    either = []
    for sign in (1, -1):
        errors = Errors.none(len(steps), joints)
        for row, (name, where, size) in enumerate(steps):
            for place in where:
                getattr(errors, name)[(row, *place)] = sign * size * 1e-3
        either.append(motions(run, sockets(plan, run), errors))
    return (either[0] - either[1]) / 2e-3


def covariance(run):
    return np.array(run["stack_up"]["built"]["covariance_mm_rad"])


@pytest.mark.parametrize("name", JOBS)
def test_the_stack_up_is_what_differences_give(plan, name):
    job = with_accuracy(JOBS[name], {"setting": 0.1})
    planned = plan(job)
    run = planned.run
    moved = slopes(planned.plan, run)
    expected = moved.T @ moved
    scale = np.sqrt(np.outer(np.diag(expected), np.diag(expected)))
    assert np.abs(covariance(run) - expected).max() < 1e-6 * scale.max()
    assert (np.abs(covariance(run) - expected) < 1e-5 * scale + 1e-12).all()


@pytest.mark.parametrize("job", EXAMPLES, ids=lambda path: path.stem)
def test_the_examples_too(plan, job):
    planned = plan(json.loads(job.read_text()))
    for run in planned.runs:
        moved = slopes(planned.plan, run)
        expected = moved.T @ moved
        assert np.abs(covariance(run) - expected).max() < 1e-6 * np.abs(expected).max()
        # Shares are fractions of the mean square distance.
        shares = run["stack_up"]["shares"]
        assert sum(share["fraction"] for share in shares) == pytest.approx(1)
        # The gap has both ports' scatter too, the first at the end of the run.
        gap = expected + port_scatter(planned.plan, run)
        distance = np.sqrt(np.trace(gap[:3, :3]))
        assert run["stack_up"]["gap"]["distance_mm"] == pytest.approx(distance)


@pytest.mark.parametrize("name", JOBS)
def test_builds_scatter_as_told(plan, name):
    planned = plan(with_accuracy(JOBS[name], SMALL))
    run, accuracy = planned.run, planned.plan["accuracy"]
    random = np.random.default_rng(7)
    joints = len(run["joints"])
    normal = lambda size: size * random.normal(size=(BUILDS, joints))
    errors = Errors.none(BUILDS, joints)
    errors.cut = normal(np.radians(accuracy["cut_deg"]))
    errors.clock = normal(np.radians(accuracy["clock_deg"]))
    errors.length = normal(accuracy["length_mm"])
    errors.bend = normal(np.radians(accuracy["bend_deg"]))
    for group in settings(run):
        shared = np.radians(accuracy["setting_deg"]) * random.normal(size=(BUILDS, 1))
        errors.cut[:, group] += shared
    size = np.radians(accuracy["cut_deg"]) * random.normal(size=(BUILDS, joints, 2, 1))
    way = random.uniform(0, 2 * np.pi, size=(BUILDS, joints, 2))
    errors.faces = size * np.stack([np.cos(way), np.sin(way)], axis=-1)
    found = np.cov(motions(run, sockets(planned.plan, run), errors).T)
    expected = covariance(run)
    product = np.outer(np.diag(expected), np.diag(expected))
    # Five standard errors of a covariance entry of normal numbers.
    allowed = 5 * np.sqrt((product + expected**2) / BUILDS) + 1e-4 * np.sqrt(product)
    assert (np.abs(found - expected) <= allowed).all()


def test_the_ellipsoid_is_that_of_the_covariance(plan):
    run = plan(TWISTED).run
    told = run["stack_up"]["gap"]
    values, vectors = np.linalg.eigh(np.array(told["covariance_mm_rad"])[:3, :3])
    for axis, value, vector in zip(told["ellipsoid"], values[::-1], vectors.T[::-1]):
        assert axis["sigma_mm"] == pytest.approx(np.sqrt(value))
        assert abs(np.dot(axis["direction"], vector)) == pytest.approx(1)
