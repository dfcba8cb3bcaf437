"""plan.json against geometry, saw and weld worked out anew from their definitions."""

import json
from itertools import pairwise

import numpy as np
import pytest
from jsonschema import Draft202012Validator
from scipy.special import ellipe

from conftest import EXAMPLES
from jobs import JOBS, TWISTED, elbow, millimeters
from kinematics import Pose, across, first_pose, turned, unit, walk

every_job = pytest.mark.parametrize("job", JOBS.values(), ids=JOBS.keys())

# Coordinates below 1 m in double precision carry 1e-13 mm, and a run of 20 pieces
# gathers some 20 roundings of angles, 1e-16 rad each, on a lever of 1 m. All of it
# stays far below these.
CLOSES_MM = 1e-9
VERTEX_MM = 1e-8
DIRECTION = 1e-11
DEGREES = 1e-9


def turn_between(a, b):
    """How far two clocks are apart, in degrees, whatever turn they are counted from."""
    return abs((a - b + 180) % 360 - 180)


# --- the run ---


@pytest.mark.parametrize(
    "a, b, phi, total",
    [
        (45, 45, 90, 60),
        (60, 60, 90, 75.522488),
        (22.5, 22.5, 90, 31.399715),
        (15, 15, 45, 27.668935),
    ],
)
def test_two_turns_compose(a, b, phi, total):
    """The walk itself: turns A and B in planes φ apart make one turn Δ,
    cos Δ = cos A cos B - sin A sin B cos φ (spherical law of cosines; computed)."""
    pieces = [
        {"length_mm": 1, "end_cut_deg": a / 2, "clock_deg": 0},
        {"length_mm": 1, "end_cut_deg": b / 2, "clock_deg": phi},
    ]
    start = Pose(np.zeros(3), np.array([0, 0, 1.0]), np.array([1.0, 0, 0]))
    end = walk(pieces, start)[-1]
    assert np.degrees(np.arccos(end.axis @ start.axis)) == pytest.approx(total, abs=1e-6)


def test_the_twisted_job_is_twisted(plan):
    """Else no check would notice a clock with the wrong sign."""
    clocks = [piece["clock_deg"] for piece in plan(TWISTED).run["pieces"]]
    assert any(20 < clock % 180 < 160 for clock in clocks)


@every_job
def test_pieces_lead_from_port_to_port(plan, job):
    """Forward kinematics: lengths, cuts and clocks alone rebuild the whole run."""
    planned = plan(job)
    for spec, run in zip(job["runs"], planned.runs, strict=True):
        poses = walk(run["pieces"], first_pose(planned.plan, run))
        points = np.array([pose.point for pose in poses])
        assert np.abs(points - run["vertices_mm"]).max() <= VERTEX_MM

        # The ports as the job has them, not as the plan repeats them.
        first, last = job["ports"][spec["from"]], job["ports"][spec["to"]]
        assert distance(points[0], [millimeters(job, x) for x in first["center"]]) <= CLOSES_MM
        assert distance(points[-1], [millimeters(job, x) for x in last["center"]]) <= CLOSES_MM
        assert distance(poses[0].axis, unit(first["outward"])) <= DIRECTION
        # Flow goes into the last port, against its outward direction.
        assert distance(poses[-1].axis, -unit(last["outward"])) <= DIRECTION


def distance(a, b):
    return np.linalg.norm(np.subtract(a, b))


@every_job
def test_joints_bisect(plan, job):
    """A joint stands at its vertex, its plane square to the sum of both axes."""
    for run in plan(job).runs:
        axes = [unit(np.subtract(b, a)) for a, b in pairwise(run["vertices_mm"])]
        joints = run["joints"]
        assert [joint["number"] for joint in joints] == list(range(len(axes) + 1))
        assert [joint["at_mm"] for joint in joints] == run["vertices_mm"]
        for joint, before, after in zip(joints, [axes[0], *axes], [*axes, axes[-1]], strict=True):
            assert joint["normal"] == pytest.approx(unit(before + after), abs=DIRECTION)
            # The chord between the axes is 2 sin(δ/2), which is exact for small turns too.
            cut = np.degrees(np.arcsin(distance(after, before) / 2))
            assert joint["cut_deg"] == pytest.approx(cut, abs=DEGREES)
            assert joint["deflection_deg"] == pytest.approx(2 * cut, abs=DEGREES)


@every_job
def test_pieces_fit_their_joints(plan, job):
    """Each end of a piece is cut as its joint says, and the bend plane turns by the
    clock of the piece between two miters."""
    for run in plan(job).runs:
        pieces, joints = run["pieces"], run["joints"]
        assert [piece["number"] for piece in pieces] == list(range(1, len(joints)))
        for piece, (start, end) in zip(pieces, pairwise(joints), strict=True):
            assert piece["start_cut_deg"] == pytest.approx(start["cut_deg"], abs=DEGREES)
            assert piece["end_cut_deg"] == pytest.approx(end["cut_deg"], abs=DEGREES)
            if start["kind"] == end["kind"] == "miter":
                assert turn_between(end["clock_deg"], piece["clock_deg"]) <= DEGREES


@every_job
def test_lengths(plan, job):
    """Edges, and what sockets and fit-up add to them or take away."""
    for spec, run in zip(job["runs"], plan(job).runs, strict=True):
        edges = [distance(a, b) for a, b in pairwise(run["vertices_mm"])]
        lengths = [piece["length_mm"] for piece in run["pieces"]]
        assert lengths == pytest.approx(edges, abs=1e-10)
        assert run["length_mm"] == pytest.approx(sum(edges), abs=1e-9)

        cut_lengths = [piece["cut_length_mm"] for piece in run["pieces"]]
        added = np.subtract(cut_lengths, lengths)
        assert added == pytest.approx(allowed(job, spec, run["joints"]), abs=1e-9)
        assert run["cut_length_mm"] == pytest.approx(sum(cut_lengths), abs=1e-9)


def allowed(job, spec, joints):
    """How much longer than its edge each piece is cut.

    A socket takes tube in past the face of its port, and leaves no gap there. A gap, less
    what the weld pulls it together, is shared by both faces of every joint of two pieces,
    and measured square to them. A flange is not cut back: the tube gives all of it there.
    """
    shop = job.get("shop", {})
    gap = millimeters(job, shop.get("gap", 0)) - millimeters(job, shop.get("shrinkage", 0))
    setback = [gap / 2 / np.cos(np.radians(joint["cut_deg"])) for joint in joints]
    setback[0] = setback[-1] = gap
    extra = -np.add(setback[:-1], setback[1:])
    for end, port in ((0, "from"), (-1, "to")):
        socket = millimeters(job, job["ports"][spec[port]].get("socket", 0))
        extra[end] += socket + gap if socket else 0
    return extra


@every_job
def test_long_and_short_sides(plan, job):
    """Longest and shortest line along the outside, measured every 0.1 degree."""
    clock = np.radians(np.arange(0, 360, 0.1))
    for run in plan(job).runs:
        radius = run["tube"]["od_mm"] / 2
        for piece in run["pieces"]:
            start, end, turn = np.radians(
                [piece["start_cut_deg"], piece["end_cut_deg"], piece["clock_deg"]]
            )
            slant = np.tan(start) * np.cos(clock) + np.tan(end) * np.cos(clock - turn)
            sides = piece["cut_length_mm"] + radius * slant
            # Half a step off the peak loses r(tan κ₁ + tan κ₂)(0.05°)²/2 < 1e-5 mm.
            assert piece["long_mm"] == pytest.approx(sides.max(), abs=1e-5)
            assert piece["short_mm"] == pytest.approx(sides.min(), abs=1e-5)


@pytest.mark.parametrize(
    "pieces, cut, center, throat, heel, weld",
    [
        (3, 22.5, 1.242641, 0.828427, 1.656854, 3.27229432),
        (5, 11.25, 0.596737, 0.397825, 0.795649, 3.17244100),
        (6, 9, 0.475153, 0.316769, 0.633538, 3.16120315),
        (10, 5, 0.262466, 0.174977, 0.349955, None),
        (4, 15, None, None, None, 3.19724446),
        (7, 7.5, None, None, None, 3.15516155),
    ],
)
def test_quarter_bends_of_radius_one_and_a_half_diameters(
    plan, pieces, cut, center, throat, heel, weld
):
    """A 90 degree elbow, CLR 1.5 D, over D: sides of a pie, and weld round a joint.

    Every joint of n pieces is cut at 90°/(2(n-1)); a pie measures 2·CLR·tan κ, ASME
    B31.3-2016 304.2.3 (seen); end pieces are half the others, A. F. Payne, Popular
    Science Monthly 91, 1917 (seen). Numbers computed, and worked out a second time.
    """
    diameter = 76.2
    run = plan(elbow(diameter, 1.5 * diameter, cut)).run
    first, pie, *rest = run["pieces"]
    assert 2 + len(rest) == pieces
    assert pie["start_cut_deg"] == pytest.approx(cut, abs=DEGREES)
    assert 2 * first["length_mm"] == pytest.approx(pie["length_mm"], abs=1e-9)
    if center:
        assert pie["length_mm"] / diameter == pytest.approx(center, abs=1e-6)
        assert pie["short_mm"] / diameter == pytest.approx(throat, abs=1e-6)
        assert pie["long_mm"] / diameter == pytest.approx(heel, abs=1e-6)
    if weld:
        assert run["joints"][1]["weld_mm"] / diameter == pytest.approx(weld, abs=1e-8)


# --- the saw ---


@every_job
def test_the_saw_sheet_cuts_these_pieces(plan, job):
    """A saw is simulated from the sheet alone; what drops off must be the pieces."""
    for run in plan(job).runs:
        kerf = run["rates"]["kerf_mm"]
        dropped = list(saw_up(run["saw"], kerf))
        assert [step["piece"] for step in run["saw"]] == [p["number"] for p in run["pieces"]]
        for got, piece, step in zip(dropped, run["pieces"], run["saw"], strict=True):
            assert got["length"] == pytest.approx(piece["cut_length_mm"], abs=1e-9)
            assert got["start_cut"] == pytest.approx(piece["start_cut_deg"], abs=DEGREES)
            assert got["end_cut"] == pytest.approx(piece["end_cut_deg"], abs=DEGREES)
            assert turn_between(got["clock"], piece["clock_deg"]) <= DEGREES
            assert turn_between(got["mark"], step["mark_deg"]) <= DEGREES
        # The stick's own end is trimmed square first, at the cost of one kerf.
        used = kerf + sum(step["feed_mm"] for step in run["saw"])
        assert run["cost"]["tube_mm"] == pytest.approx(used, abs=1e-9)


def saw_up(steps, kerf):
    """Pieces that drop off a stick with a square free end, step by step.

    The saw stands still. The stick lies along z with its free end toward -z and is
    pushed that way; downstream is +z. At zero feed its end touches the near face of the
    blade. The blade tilts about y, so that it leaves what drops off long toward +x. Its
    two faces are a kerf apart. A face is kept as its normal, pointing downstream.
    """
    axis, saw_side = np.array([0, 0, 1.0]), np.array([1.0, 0, 0])
    free_end = axis
    scribed = saw_side
    for step in steps:
        # Clockwise, seen from the free end along the stick: right-handed about +z.
        free_end = roll(free_end, axis, step["rotate_deg"])
        scribed = turned(scribed, axis, step["rotate_deg"])
        tilt = np.radians(step["angle_deg"])
        blade = np.cos(tilt) * axis - np.sin(tilt) * saw_side
        yield {
            "length": step["feed_mm"] - kerf / (blade @ axis),
            "start_cut": off_square(free_end, axis),
            "end_cut": off_square(blade, axis),
            # A start is long where its face leans upstream, an end where it leans down.
            "clock": clock(lean(free_end, axis), -lean(blade, axis), axis),
            "mark": clock(scribed, saw_side, axis),
        }
        free_end = blade


def roll(vector, axis, degrees):
    along = axis * (vector @ axis)
    angle = np.radians(degrees)
    square = vector - along
    return along + np.cos(angle) * square + np.sin(angle) * np.cross(axis, square)


def off_square(normal, axis):
    return np.degrees(np.arctan2(np.linalg.norm(np.cross(axis, normal)), axis @ normal))


def lean(normal, axis):
    """Toward where a face leans upstream; zero for a square one."""
    square = normal - axis * (normal @ axis)
    return across(normal, axis) if np.linalg.norm(square) > 1e-9 else np.zeros(3)


def clock(zero, other, axis):
    """Right-handed about `axis`; 0 where either is zero, as plan.json has it."""
    return np.degrees(np.arctan2(np.cross(axis, zero) @ other, zero @ other))


# --- the weld ---


@every_job
def test_weld_length(plan, job):
    """Perimeter of the ellipse a = r/cos κ, b = r: 4a·E(m = 1 - b²/a² = sin²κ), with E
    from scipy.special.ellipe (checked against Abramowitz & Stegun below)."""
    for run in plan(job).runs:
        radius = run["tube"]["od_mm"] / 2
        for joint in run["joints"]:
            cut = np.radians(joint["cut_deg"])
            perimeter = 4 * radius / np.cos(cut) * ellipe(np.sin(cut) ** 2)
            assert joint["weld_mm"] == pytest.approx(perimeter, rel=1e-12)
        # Flanges are not welded to another piece of tube.
        miters = [joint["weld_mm"] for joint in run["joints"] if joint["kind"] == "miter"]
        assert run["weld_mm"] == pytest.approx(sum(miters), rel=1e-12)
        assert run["cost"]["weld_mm"] == pytest.approx(sum(miters), rel=1e-12)


def test_ellipe_is_the_tabulated_integral():
    """E at modular angles 15, 30 and 45 degrees: Abramowitz & Stegun, Handbook of
    Mathematical Functions, Table 17.2 (printing from memory, digits computed)."""
    angles = np.radians([15, 30, 45])
    assert ellipe(np.sin(angles) ** 2) == pytest.approx(
        [1.5441504969, 1.4674622093, 1.3506438810], abs=1e-10
    )


# --- the job's schema ---


def errors(job_schema, job):
    return list(Draft202012Validator(job_schema).iter_errors(job))


def test_the_schema_is_a_schema(job_schema):
    assert job_schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    Draft202012Validator.check_schema(job_schema)


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda path: path.name)
def test_the_schema_accepts_every_example(job_schema, example):
    assert errors(job_schema, json.loads(example.read_text())) == []


@every_job
def test_the_schema_accepts_what_the_program_accepts(plan, job_schema, job):
    plan(job)
    assert errors(job_schema, job) == []


@pytest.mark.parametrize("where", [(), ("tube",), ("ports", "a"), ("runs", 0), ("shop",)], ids=str)
def test_the_schema_rejects_an_unknown_key(job_schema, where):
    """At every level; and for the key, not for anything else."""
    job = elbow(50, 75, 9)
    inner = job
    for step in where:
        inner = inner[step]
    inner["color"] = "red"
    found = [error for top in errors(job_schema, job) for error in (top, *(top.context or []))]
    found = [error for error in found if error.validator == "additionalProperties"]
    assert [tuple(error.absolute_path) for error in found] == [where]
    assert "color" in found[0].message
