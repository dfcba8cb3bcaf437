"""Ways to make a run, rebuilt from what the plan says and nothing else.

One saw setting and listed angles by forward kinematics of the pieces; stock bends by the
take-outs of ASME B16.9; free ports, passes and keep-outs from the vertices.
"""

from math import cos, pi, radians, sin, tan

import numpy as np
import pytest
import trimesh

from kinematics import first_pose, unit, walk

# ASME B16.9 butt-welding elbows, center to end in mm (catalog tables, seen): long radius
# 90 and 45 degrees, short radius 90. The 45's is not R·tan 22.5° in small sizes.
CENTER_TO_END = {
    "2": {"LR 90": 76, "LR 45": 35, "SR 90": 51},
    "3": {"LR 90": 114, "LR 45": 51, "SR 90": 76},
    "4": {"LR 90": 152, "LR 45": 64, "SR 90": 102},
}
# ASME B36.10M outside diameters in mm (seen).
OUTSIDE = {"2": 60.3, "3": 88.9, "4": 114.3}

SEEDS = range(1, 9)


def random_ports(seed):
    random = np.random.default_rng(seed)
    center = [round(float(c), 1) for c in random.uniform(-350, 350, 3)]
    directions = [[round(float(c), 4) for c in unit(random.normal(size=3))] for _ in range(2)]
    return {
        "a": {"center": [0, 0, 0], "outward": directions[0]},
        "b": {"center": center, "outward": directions[1]},
    }


def random_job(seed, run=None, **more):
    return {
        "units": "mm",
        "tube": {"od": 50.8, "wall": 1.65},
        "ports": random_ports(seed),
        "runs": [{"name": "run", "from": "a", "to": "b"} | (run or {})],
    } | more


def miter_cuts(run):
    return np.array([joint["cut_deg"] for joint in run["joints"] if joint["kind"] == "miter"])


@pytest.mark.parametrize("seed", SEEDS)
def test_one_setting_closes_by_forward_kinematics(plan, seed):
    planned = plan(random_job(seed, {"one_setting": True}))
    run = planned.run
    cuts = miter_cuts(run)
    assert len(cuts) > 1 and np.ptp(cuts) < 1e-5
    # Every miter at the mean: what the one setting of a saw makes.
    the_cut = float(cuts.mean())
    pieces = [
        piece
        | {
            "start_cut_deg": the_cut if piece["start_cut_deg"] else 0.0,
            "end_cut_deg": the_cut if piece["end_cut_deg"] else 0.0,
        }
        for piece in run["pieces"]
    ]
    *_, end = walk(pieces, first_pose(planned.plan, run))
    port = planned.plan["ports"]["b"]
    assert np.linalg.norm(end.point - port["center_mm"]) < 1e-4
    assert np.linalg.norm(end.axis + unit(port["outward"])) < 1e-6
    for bend in run["pie_bends"]:
        joints = bend["turn_deg"] / (2 * the_cut)
        assert joints == pytest.approx(bend["joints"], abs=1e-5)


@pytest.mark.parametrize("seed", SEEDS)
def test_listed_saw_angles_are_the_only_ones(plan, seed):
    angles = [4.5, 7.5, 9]
    run = plan(random_job(seed, shop={"saw_angles": angles})).run
    off = np.abs(miter_cuts(run)[:, None] - np.array(angles)).min(axis=1)
    assert len(off) > 1 and off.max() < 1e-5


def elbows(nps, *patterns, end, outward, most):
    return {
        "units": "mm",
        "tube": {"od": OUTSIDE[nps], "wall": 2.11},
        "ports": {
            "a": {"center": [0, 0, 0], "outward": [0, 0, 1]},
            "b": {"center": end, "outward": outward},
        },
        "runs": [{"name": "run", "from": "a", "to": "b", "made_of": "stock", "max_bends": most}],
        "shop": {"bends": [{"b16_9": f"{nps} {pattern}", "price": 10} for pattern in patterns]},
    }


def straights(run):
    return [piece["length_mm"] for piece in run["pieces"] if piece["kind"] == "straight"]


@pytest.mark.parametrize("nps", CENTER_TO_END)
@pytest.mark.parametrize("pattern", ["LR 90", "SR 90"])
def test_one_elbow_takes_out_what_the_standard_says(plan, nps, pattern):
    take_out = CENTER_TO_END[nps][pattern]
    job = elbows(nps, pattern, end=[400, 0, 520], outward=[-1, 0, 0], most=1)
    run = plan(job).run
    assert straights(run) == pytest.approx([520 - take_out, 400 - take_out], abs=1e-6)
    (arc,) = run["bends"]
    assert arc["turn_deg"] == pytest.approx(90)
    assert [joint["kind"] for joint in run["joints"]] == ["flange", "square", "square", "flange"]


@pytest.mark.parametrize("nps", CENTER_TO_END)
def test_an_offset_of_two_45s_takes_out_what_the_standard_says(plan, nps):
    take_out = CENTER_TO_END[nps]["LR 45"]
    job = elbows(nps, "LR 45", end=[260, 0, 800], outward=[0, 0, -1], most=2)
    run = plan(job).run
    first, middle, last = straights(run)
    assert middle == pytest.approx(260 * 2**0.5 - 2 * take_out, abs=1e-3)
    assert first + last == pytest.approx(800 - 260 - 2 * take_out, abs=1e-3)


def travelled(run, start, direction):
    """Where pieces lead: a straight goes on, an arc turns about its center."""
    point, axis = np.array(start, float), np.array(direction, float)
    arcs = {arc["piece"]: arc for arc in run["bends"]}
    turns = {i: joint for i, joint in enumerate(run["joints"])}
    for piece in run["pieces"]:
        number = piece["number"]
        if number not in arcs:
            # A miter turns flow as a mirror in its plane would.
            point = point + axis * piece["length_mm"]
            joint = turns[number]
            if joint["kind"] == "miter":
                normal = np.array(joint["normal"])
                axis = unit(2 * np.dot(axis, normal) * normal - axis)
            continue
        arc = arcs[number]
        turn, clr = radians(arc["turn_deg"]), arc["clr_mm"]
        point = point + axis * arc["legs_mm"][0]
        assert np.linalg.norm(point - arc["start_mm"]) < 1e-6
        inward = (np.array(arc["center_mm"]) - point) / clr
        assert abs(np.dot(inward, axis)) < 1e-9 and np.linalg.norm(inward) == pytest.approx(1)
        point = point + clr * (sin(turn) * axis + (1 - cos(turn)) * inward)
        axis = cos(turn) * axis + sin(turn) * inward
        assert np.linalg.norm(point - arc["end_mm"]) < 1e-6
        corner = np.array(arc["corner_mm"])
        assert np.linalg.norm(point - corner) == pytest.approx(clr * tan(turn / 2), abs=1e-6)
        point = point + axis * arc["legs_mm"][1]
    return point, axis


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("made_of", ["stock", "either"])
def test_runs_with_elbows_close_on_both_ports(plan, seed, made_of):
    job = random_job(seed, {"made_of": made_of}) | {
        "tube": {"od": 60.3, "wall": 2.77},
        "shop": {"bends": [{"b16_9": "2 LR 90", "price": 12}, {"b16_9": "2 SR 90", "price": 12}]},
    }
    job["ports"]["b"]["center"] = [2 * c for c in job["ports"]["b"]["center"]]
    planned = plan(job)
    ports = planned.plan["ports"]
    point, axis = travelled(planned.run, ports["a"]["center_mm"], unit(ports["a"]["outward"]))
    assert np.linalg.norm(point - ports["b"]["center_mm"]) < 1e-6
    assert np.linalg.norm(axis + unit(ports["b"]["outward"])) < 1e-9
    if made_of == "stock":
        assert len(planned.run["bends"]) > 0 and len(miter_cuts(planned.run)) == 0


def test_a_run_with_elbows_holds_wall_times_centerline(plan):
    """Pappus: the volume of the mesh, as its flats grow finer."""
    job = elbows("2", "LR 90", end=[400, 0, 520], outward=[-1, 0, 0], most=1)
    planned = plan(job, "--chord-tolerance", "0.002 mm")
    mesh = trimesh.load(planned.folder / "run.stl")
    assert mesh.is_watertight
    wall = pi * (60.3 - 2.11) * 2.11
    assert mesh.volume == pytest.approx(wall * planned.run["length_mm"], rel=1e-3)


def test_free_ports_keep_their_limits_and_never_cost_more(plan):
    fixed = random_job(3)
    free = random_job(3)
    free["ports"]["b"] |= {"slide": [{"along": [0, 0, 1], "back": 40, "ahead": 60}], "cone": 12}
    fixed, free = plan(fixed), plan(free)
    assert free.run["cost"]["rank"] <= fixed.run["cost"]["rank"] + 1e-6
    asked, end = free.plan["ports"]["b"], free.run["ends"][1]
    off = np.array(end["center_mm"]) - asked["center_mm"]
    assert np.abs(off[:2]).max() < 1e-6 and -40 - 1e-3 <= off[2] <= 60 + 1e-3
    lean = np.degrees(np.arccos(np.clip(np.dot(unit(end["outward"]), unit(asked["outward"])), -1, 1)))
    assert lean <= 12 + 1e-3


def test_a_run_goes_through_a_hole(plan):
    hole = {"name": "hole", "center": [150, 60, 170], "direction": [1, 0.2, 0.3], "radius": 45}
    job = {
        "units": "mm",
        "tube": {"od": 50.8, "wall": 1.65},
        "ports": {
            "a": {"center": [0, 0, 0], "outward": [0, 0, 1]},
            "b": {"center": [330, 40, 300], "outward": [-0.3, 0, -1]},
        },
        "runs": [{"name": "run", "from": "a", "to": "b", "through": [hole]}],
    }
    run = plan(job).run
    normal, center = unit(hole["direction"]), np.array(hole["center"])
    vertices = np.array(run["vertices_mm"])
    rooms = []
    for start, end in zip(vertices, vertices[1:]):
        axis = unit(end - start)
        along = np.dot(center - start, normal) / np.dot(axis, normal)
        if 0 <= along <= np.linalg.norm(end - start):
            off = np.linalg.norm(start + axis * along - center)
            rooms.append(45 - off - 25.4 / abs(np.dot(axis, normal)))
    assert max(rooms) >= -1e-3
    assert run["through"][0]["room_mm"] == pytest.approx(max(rooms), abs=1e-6)
