"""Ways of making a run, and what it keeps to: one saw setting, listed saw angles, stock
bends, free ports, places to go through and to keep out of. Each is worked out anew from the
job, and from vertices or pieces of plan.json."""

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import pytest
import trimesh

from jobs import random_job
from kinematics import across, first_pose, unit, walk
from test_meshes import (
    CHORD_MM,
    SINGLE_VOLUME,
    assert_closed,
    greatest_shortfall,
    manifold,
    wall_area,
)
from test_search import segment_box

# Settings of a saw that are the same; how well a run made with them must close.
CUT_DEG = 1e-5
MEETS_MM, MEETS_DEG = 1e-4, 1e-5
# How far a run made of pieces as listed may be off.
CLOSES_MM = 1e-6
# What the program takes for rounding of its search: mm of room, degrees of a port's axis.
ROOM_MM = 1e-3
# The exempt stretch is counted along the chords of an arc, a hair shorter than the arc.
CHORDS_MM = 0.1
HAIR_DEG = 0.01
# An elbow that turns by this little more than it was bought with is whole.
WHOLE_DEG = 1e-4

SEEDS = range(21, 31)


def miters(run):
    return [joint for joint in run["joints"] if joint["kind"] == "miter"]


def degrees_between(a, b):
    a, b = unit(a), unit(b)
    return np.degrees(np.arctan2(np.linalg.norm(np.cross(a, b)), a @ b))


def assert_meets_the_last_port(planned, end):
    port = planned.plan["ports"][planned.run["to"]]
    assert np.linalg.norm(end.point - port["center_mm"]) <= MEETS_MM
    assert degrees_between(end.axis, -np.array(port["outward"])) <= MEETS_DEG


# --- the saw ---


@pytest.mark.parametrize("seed", SEEDS)
def test_one_setting_makes_the_run(plan, seed):
    """Every miter cut at the one mean angle, lengths and clocks as planned: the run meets
    its last port. Turns are whole numbers of joints."""
    planned = plan(random_job(seed, one_setting=True))
    run = planned.run
    cuts = [joint["cut_deg"] for joint in miters(run)]
    assert np.ptp(cuts) <= CUT_DEG
    assert run["cost"]["setups"] == 2
    one = np.mean(cuts)
    pieces = [piece | {"end_cut_deg": one} for piece in run["pieces"][:-1]]
    last = run["pieces"][-1]
    assert last["end_cut_deg"] == 0
    end = walk([*pieces, last], first_pose(planned.plan, run))[-1]
    assert_meets_the_last_port(planned, end)
    for bend in run["pie_bends"]:
        assert bend["turn_deg"] == pytest.approx(bend["joints"] * 2 * one, abs=CUT_DEG)
    assert len(cuts) == sum(bend["joints"] for bend in run["pie_bends"])


@pytest.mark.parametrize("angles", [[7.5, 10, 11.25], [6, 9]], ids=str)
@pytest.mark.parametrize("seed", SEEDS)
def test_listed_angles_make_the_run(plan, seed, angles):
    """The same with every miter cut at the listed angle that is nearest."""
    planned = plan(random_job(seed) | {"shop": {"saw_angles": angles}})
    run = planned.run

    def listed(cut):
        return min(angles, key=lambda angle: abs(angle - cut))

    cuts = [joint["cut_deg"] for joint in miters(run)]
    assert cuts == pytest.approx([listed(cut) for cut in cuts], abs=CUT_DEG)
    *pieces, last = run["pieces"]
    pieces = [piece | {"end_cut_deg": listed(piece["end_cut_deg"])} for piece in pieces]
    end = walk([*pieces, last], first_pose(planned.plan, run))[-1]
    assert_meets_the_last_port(planned, end)


# --- stock bends ---

# ASME B16.9 elbows, center to end in mm by nominal pipe size (catalog tables; seen). The
# 45° elbow of small sizes is longer than CLR·tan 22.5°.
CENTER_TO_END = {
    2: {"LR 90": 76, "LR 45": 35},
    3: {"LR 90": 114, "LR 45": 51},
    4: {"LR 90": 152, "LR 45": 64},
}
TURN_DEG = {"LR 90": 90, "LR 45": 45}
# OD and wall, ASME B36.19M 10S, from the Python package fluids 1.3.1 (seen).
PIPE = {2: (60.3, 2.77), 3: (88.9, 3.05), 4: (114.3, 3.05)}

every_size = pytest.mark.parametrize("nps", CENTER_TO_END)


def duct(nps, center, outward, elbows, straights=(None, None), **run):
    """From the origin, upward, to `center`, with elbows alone."""
    od, wall = PIPE[nps]
    job = {
        "units": "mm",
        "tube": {"od": od, "wall": wall},
        "ports": {
            "a": {"center": [0, 0, 0], "outward": [0, 0, 1]},
            "b": {"center": list(map(float, center)), "outward": list(map(float, outward))},
        },
        "runs": [{"name": "duct", "from": "a", "to": "b", "made_of": "stock"} | run],
        "shop": {"bends": [{"b16_9": f"{nps} {elbow}"} for elbow in elbows]},
    }
    for port, straight in zip(job["ports"].values(), straights, strict=True):
        if straight is not None:
            port["straight"] = straight
    return job


def one_90(nps):
    return duct(nps, [300, 0, 400], [-1, 0, 0], ["LR 90", "LR 45"])


def offset_of_45s(nps):
    """A set of 45° over 300 mm from corner to corner."""
    along = 300 * math.sqrt(0.5)
    return duct(nps, [along, 0, 380 + along], [0, 0, -1], ["LR 45"])


def two_90s_in_two_planes(nps):
    """The corners can only be those of whole elbows: nearer to its port than this straight
    no bend may begin, and beyond it no turn is 90° or less."""
    end = CENTER_TO_END[nps]["LR 90"]
    straights = (500 - end, 600 - end)
    return duct(nps, [700, 600, 500], [0, -1, 0], ["LR 90"], straights, max_bends=2)


def cut_down_to_60(nps):
    """400 mm before and after the one corner."""
    sin, cos = np.sin(np.radians(60)), np.cos(np.radians(60))
    return duct(
        nps, [400 * sin, 0, 400 * (1 + cos)], [-sin, 0, -cos], ["LR 90", "LR 45"], max_bends=1
    )


def cut_down_in_space(nps):
    return duct(nps, [650, 480, 700], [-0.6, -0.64, -0.48], ["LR 90", "LR 45"])


def pies_and_stock(nps):
    """One elbow on the shelf: the other bends are pies."""
    job = duct(nps, [650, 480, 700], [-0.6, -0.64, -0.48], ["LR 45"], made_of="either")
    job["shop"]["bends"][0]["count"] = 1
    return job


WHOLE = {
    "one 90": (one_90, ["LR 90"]),
    "offset of 45s": (offset_of_45s, ["LR 45", "LR 45"]),
    "two 90s in two planes": (two_90s_in_two_planes, ["LR 90", "LR 90"]),
}
DUCTS = {name: make for name, (make, _) in WHOLE.items()} | {
    "cut down to 60": cut_down_to_60,
    "cut down in space": cut_down_in_space,
    "pies and stock": pies_and_stock,
}

every_duct = pytest.mark.parametrize("make", DUCTS.values(), ids=DUCTS.keys())


@every_size
@pytest.mark.parametrize("make, elbows", WHOLE.values(), ids=WHOLE.keys())
def test_whole_elbows_take_out_what_the_standard_says(plan, nps, make, elbows):
    """A straight is as long as its leg from corner to corner, less center to end at each
    elbow."""
    run = plan(make(nps)).run
    assert [bend["stock"] for bend in run["bends"]] == [f"NPS {nps} {elbow}" for elbow in elbows]
    corners = [bend["corner_mm"] for bend in run["bends"]]
    points = np.array([run["vertices_mm"][0], *corners, run["vertices_mm"][-1]])
    ends = [0, *(CENTER_TO_END[nps][elbow] for elbow in elbows), 0]
    legs = np.linalg.norm(np.diff(points, axis=0), axis=1)
    straights = [piece["length_mm"] for piece in run["pieces"] if piece["kind"] == "straight"]
    taken = np.add(ends[:-1], ends[1:])
    assert straights == pytest.approx(legs - taken, abs=1e-6)
    for bend, elbow in zip(run["bends"], elbows, strict=True):
        assert bend["turn_deg"] == pytest.approx(TURN_DEG[elbow], abs=1e-6)
        # The end of the elbow is a joint.
        for joint in bend["piece"] - 1, bend["piece"]:
            at = np.subtract(run["joints"][joint]["at_mm"], bend["corner_mm"])
            assert np.linalg.norm(at) == pytest.approx(CENTER_TO_END[nps][elbow], abs=1e-6)


@every_size
def test_where_the_corners_of_whole_elbows_are(plan, nps):
    """By hand, from the jobs alone."""
    (bend,) = plan(one_90(nps)).run["bends"]
    assert bend["corner_mm"] == pytest.approx([0, 0, 400], abs=1e-6)
    first, second = plan(two_90s_in_two_planes(nps)).run["bends"]
    assert first["corner_mm"] == pytest.approx([0, 0, 500], abs=1e-4)
    assert second["corner_mm"] == pytest.approx([700, 0, 500], abs=1e-4)
    first, second = plan(offset_of_45s(nps)).run["bends"]
    apart = np.subtract(second["corner_mm"], first["corner_mm"])
    assert np.linalg.norm(apart) == pytest.approx(300, abs=1e-4)


@every_size
@every_duct
def test_arcs_are_where_their_corners_say(plan, nps, make):
    run = plan(make(nps)).run
    assert run["bends"]
    od, _ = PIPE[nps]
    for bend in run["bends"]:
        corner, center, start, end = (
            np.array(bend[key]) for key in ("corner_mm", "center_mm", "start_mm", "end_mm")
        )
        clr, turn = bend["clr_mm"], np.radians(bend["turn_deg"])
        elbow = bend["stock"].removeprefix(f"NPS {nps} ")
        # Nominally 1.5 NPS, but no more than center to end leaves room for.
        end_of_arc = CENTER_TO_END[nps][elbow] / np.tan(np.radians(TURN_DEG[elbow]) / 2)
        assert clr == pytest.approx(min(1.5 * nps * 25.4, end_of_arc), abs=1e-9)
        assert bend["turn_deg"] <= TURN_DEG[elbow] + WHOLE_DEG
        for point in start, end:
            assert np.linalg.norm(point - corner) == pytest.approx(clr * np.tan(turn / 2), abs=1e-6)
            assert np.linalg.norm(point - center) == pytest.approx(clr, abs=1e-6)
            # Legs touch the arc.
            assert (point - corner) @ (point - center) == pytest.approx(0, abs=1e-6 * clr)
        piece = run["pieces"][bend["piece"] - 1]
        assert piece["kind"] == "stock-bend"
        length = sum(bend["legs_mm"]) + clr * turn
        assert piece["length_mm"] == pytest.approx(length, abs=1e-6)
        assert piece["long_mm"] - piece["short_mm"] == pytest.approx(od * turn, abs=1e-6)
        # Joints at both ends are cut square, and legs lie between them and the arc.
        joints = [run["joints"][bend["piece"] - 1], run["joints"][bend["piece"]]]
        for joint, leg, point in zip(joints, bend["legs_mm"], (start, end), strict=True):
            assert joint["kind"] in ("square", "flange")
            assert joint["cut_deg"] == 0
            # Rounding may take a leg that is none 1e-6 mm into the arc.
            assert leg >= -1e-6
            assert np.linalg.norm(joint["at_mm"] - point) == pytest.approx(abs(leg), abs=1e-6)


@every_size
def test_an_elbow_cut_down_keeps_its_radius(plan, nps):
    (bend,) = plan(cut_down_to_60(nps)).run["bends"]
    assert bend["stock"] == f"NPS {nps} LR 90"
    assert bend["turn_deg"] == pytest.approx(60, abs=1e-6)
    # All 90° elbows here have the arc's radius for a center to end.
    assert bend["clr_mm"] == pytest.approx(CENTER_TO_END[nps]["LR 90"], abs=1e-9)
    turns = [bend["turn_deg"] for bend in plan(cut_down_in_space(nps)).run["bends"]]
    assert any(1 < turn % 45 < 44 for turn in turns)


# Transforms of a frame that stands in the middle of a face: z downstream, x to the outside
# of the bend.


def moved(x, y, z):
    transform = np.eye(4)
    transform[:3, 3] = x, y, z
    return transform


def rolled(degrees):
    """About z, right-handed: clockwise looking downstream."""
    sin, cos = np.sin(np.radians(degrees)), np.cos(np.radians(degrees))
    transform = np.eye(4)
    transform[:2, :2] = [[cos, -sin], [sin, cos]]
    return transform


def bent(degrees):
    """Away from x, about y."""
    sin, cos = np.sin(np.radians(degrees)), np.cos(np.radians(degrees))
    transform = np.eye(4)
    transform[0, [0, 2]] = cos, -sin
    transform[2, [0, 2]] = sin, cos
    return transform


def compose(run, start):
    """Frames at the end of each piece, from lengths, turns, radii and clocks alone."""
    arcs = {bend["piece"]: bend for bend in run["bends"]}
    frames, frame = [start], start
    for piece, before, after in zip(
        run["pieces"], run["joints"], run["joints"][1:], strict=False
    ):
        if bend := arcs.get(piece["number"]):
            clr, turn = bend["clr_mm"], bend["turn_deg"]
            arc = moved(-clr, 0, 0) @ bent(turn) @ moved(clr, 0, 0)
            first, last = (moved(0, 0, leg) for leg in bend["legs_mm"])
            frame = frame @ rolled(before["clock_deg"]) @ first @ arc @ last
        else:
            frame = frame @ moved(0, 0, piece["length_mm"])
        frames.append(frame)
        if after["kind"] == "miter":
            frame = frame @ rolled(after["clock_deg"]) @ bent(after["deflection_deg"])
    return frames, frame


def first_frame(plan, run):
    """At the first port, x to the outside of whatever turns first."""
    port = plan["ports"][run["from"]]
    axis, point = unit(port["outward"]), port["center_mm"]
    outsides = {
        bend["piece"] - 1: np.subtract(bend["start_mm"], bend["center_mm"])
        for bend in run["bends"]
    } | {joint["number"]: -np.array(joint["normal"]) for joint in miters(run)}
    x = across(outsides[min(outsides)], axis)
    frame = np.eye(4)
    frame[:3] = np.column_stack([x, np.cross(axis, x), axis, point])
    return frame


@every_size
@every_duct
def test_pieces_and_elbows_lead_from_port_to_port(plan, nps, make):
    job = make(nps)
    planned = plan(job)
    run = planned.run
    frames, last = compose(run, first_frame(planned.plan, run))
    for frame, joint in zip(frames, run["joints"], strict=True):
        assert np.abs(frame[:3, 3] - joint["at_mm"]).max() <= CLOSES_MM
    port = job["ports"]["b"]
    assert np.linalg.norm(last[:3, 3] - port["center"]) <= CLOSES_MM
    assert np.linalg.norm(last[:3, 2] + unit(port["outward"])) <= 1e-9
    lengths = [piece["length_mm"] for piece in run["pieces"]]
    assert run["length_mm"] == pytest.approx(sum(lengths), abs=1e-9)
    pies, stock = len(run["pie_bends"]), len(run["bends"])
    assert (stock == 1 and pies > 0) if make is pies_and_stock else (stock > 0 and pies == 0)


@every_size
@every_duct
@pytest.mark.parametrize("solid", [False, True], ids=["hollow", "solid"])
def test_the_mesh_of_a_run_with_stock_bends(plan, nps, make, solid):
    """Closed; cross-section times length, but for facets round the tube and along arcs.

    A step φ along an arc has A·CLR·sin φ for A·CLR·φ, so lacks a part φ²/6; the chord on
    the outside lies (CLR + r)φ²/8 within the arc.
    """
    planned = plan(make(nps), *(["--solid"] if solid else []))
    run, tube = planned.run, planned.run["tube"]
    mesh = trimesh.load_mesh(planned.folder / "run.stl")
    assert_closed(mesh)
    assert manifold(mesh).genus() == (0 if solid else 1)
    area = np.pi / 4 * tube["od_mm"] ** 2 if solid else wall_area(tube)
    shortfall = 1 - mesh.volume / (area * run["length_mm"])
    swing = min(bend["clr_mm"] for bend in run["bends"]) + tube["od_mm"] / 2
    along = 4 / 3 * CHORD_MM / swing * 1.01
    allowed = greatest_shortfall(tube, CHORD_MM) + along
    assert -SINGLE_VOLUME <= shortfall <= allowed + SINGLE_VOLUME


# --- free ports ---

FREEDOMS = {
    "slide": {"slide": [{"along": [1, 0, 0], "back": 40, "ahead": 40}]},
    "slides": {
        "slide": [
            {"along": [0, 1, 0], "back": 30, "ahead": 30},
            {"along": [1, 0, 2], "back": 50, "ahead": 50},
        ]
    },
    "cone": {"cone": 15},
    "both": {"slide": [{"along": [0, 0, 1], "back": 25, "ahead": 25}], "cone": 10},
}


@pytest.mark.parametrize("freedom", FREEDOMS.values(), ids=FREEDOMS.keys())
@pytest.mark.parametrize("which", ["a", "b"])
@pytest.mark.parametrize("seed", [2, 4, 5])
def test_a_free_port_stays_within_its_limits_and_never_costs(plan, seed, which, freedom):
    """As given, the port is in the middle of where it may go."""
    fixed, job = random_job(seed), random_job(seed)
    job["ports"][which] |= freedom
    free = plan(job).run
    ends = {end["port"]: end for end in free["ends"]}
    points = free["vertices_mm"]
    toward = {"a": np.subtract(points[1], points[0]), "b": np.subtract(points[-2], points[-1])}
    for name, end, at in (("a", ends["a"], points[0]), ("b", ends["b"], points[-1])):
        given = job["ports"][name]
        assert end["center_mm"] == pytest.approx(at, abs=1e-9)
        assert degrees_between(end["outward"], toward[name]) <= 1e-6
        offset = np.subtract(end["center_mm"], given["center"])
        slides = given.get("slide", [])
        along = np.array([unit(slide["along"]) for slide in slides]).reshape(-1, 3)
        parts = np.linalg.lstsq(along.T, offset, rcond=None)[0]
        assert np.linalg.norm(offset - along.T @ parts) <= 1e-6
        for slide, part in zip(slides, parts, strict=True):
            assert -slide["back"] - ROOM_MM <= part <= slide["ahead"] + ROOM_MM
        lean = degrees_between(end["outward"], given["outward"])
        assert lean <= given.get("cone", 0) + HAIR_DEG
    money = plan(fixed).run["cost"]["money"]
    assert free["cost"]["money"] <= money * (1 + 1e-6)


# --- places to go through ---


@dataclass(frozen=True)
class Place:
    """A hole square to `direction`, or, without one, a bracket."""

    center: tuple
    radius: float
    direction: tuple | None = None

    def spec(self, name):
        spec = {"name": name, "center": list(self.center), "radius": self.radius}
        return spec | ({"direction": list(self.direction)} if self.direction else {})

    def room(self, start, end, tube_radius):
        """Round a tube from `start` to `end`; None if it does not get there."""
        axis = unit(np.subtract(end, start))
        square = unit(self.direction) if self.direction else axis
        along = np.subtract(self.center, start) @ square / (axis @ square)
        if not 0 <= along <= np.linalg.norm(np.subtract(end, start)):
            return None
        off = np.linalg.norm(start + axis * along - self.center)
        # A tube goes through a panel as an ellipse with half axis r/cos ψ.
        needs = tube_radius / abs(axis @ square) if self.direction else 0
        return self.radius - off - needs


PASSES = {
    "bracket": [Place((150, 60, 260), 5)],
    "hole": [Place((150, 60, 260), 40, (1, 0, 1))],
    "two": [Place((60, 20, 180), 8), Place((280, 140, 380), 45, (1, 0.3, 1))],
}


@pytest.mark.parametrize("places", PASSES.values(), ids=PASSES.keys())
def test_a_straight_goes_through_each_place(plan, places):
    named = {f"place {i}": place for i, place in enumerate(places)}
    job = {
        "units": "mm",
        "tube": {"od": 50.8, "wall": 1.65},
        "ports": {
            "a": {"center": [0, 0, 0], "outward": [0, 0, 1]},
            "b": {"center": [480, 220, 420], "outward": [-0.8, 0, 0.6]},
        },
        "runs": [
            {
                "name": "run",
                "from": "a",
                "to": "b",
                "through": [place.spec(name) for name, place in named.items()],
            }
        ],
    }
    run = plan(job).run
    assert [said["name"] for said in run["through"]] == list(named)
    edges = list(pairwise(np.array(run["vertices_mm"])))
    went_through = []
    for said, place in zip(run["through"], places, strict=True):
        rooms = [place.room(*edge, 25.4) for edge in edges]
        found = {room: i for i, room in enumerate(rooms) if room is not None}
        assert said["room_mm"] == pytest.approx(max(found), abs=1e-6)
        assert max(found) >= -ROOM_MM
        # A straight between bends or ports, not a pie.
        went_through.append(found[max(found)])
    legs, first = [], 0
    for bend in run["pie_bends"]:
        legs.append(first)
        first += bend["joints"]
    assert set(went_through) <= {*legs, first}
    assert went_through == sorted(went_through)


# --- places to keep out of ---

BOXES = {
    "one": ([180, -120, -280], [220, -40, -180]),
    "two": ([-200, -50, 240], [-150, 60, 300]),
    "three": ([-60, -260, 100], [0, -200, 180]),
}


def stretches(run, exempt):
    """The centerline as segments, arcs in tenths of a degree, without what lies within
    `exempt` of its ends."""
    points = [np.array(run["joints"][0]["at_mm"])]
    arcs = {bend["piece"]: bend for bend in run["bends"]}
    for piece, joint in zip(run["pieces"], run["joints"][1:], strict=True):
        if bend := arcs.get(piece["number"]):
            center = np.array(bend["center_mm"])
            out = np.array(bend["start_mm"]) - center
            along = np.linalg.norm(out) * unit(np.subtract(bend["corner_mm"], bend["start_mm"]))
            angles = np.radians(np.arange(0, bend["turn_deg"], 0.1))[:, None]
            points += list(center + np.cos(angles) * out + np.sin(angles) * along)
            points.append(np.array(bend["end_mm"]))
        points.append(np.array(joint["at_mm"]))
    points = np.array(points)
    starts, edges = points[:-1], np.diff(points, axis=0)
    lengths = np.linalg.norm(edges, axis=1)
    after = np.cumsum(lengths)
    some = np.maximum(lengths, 1e-12)
    first = np.clip((exempt - (after - lengths)) / some, 0, 1)[:, None]
    last = np.clip(1 - (exempt - (after[-1] - after)) / some, 0, 1)[:, None]
    kept = (first < last)[:, 0]
    return (starts + edges * first)[kept], (edges * (last - first))[kept]


@dataclass(frozen=True)
class Room:
    """What is left at one obstacle, in mm: as plan.json says, as it is, and how much less
    the program may say, since it widens the tube to r/cos κ at miters, and by an arc's rise
    over chords of 6° at most."""

    said: float
    true: float
    modesty: float


@pytest.fixture
def rooms(plan):
    def find(seed, made_of):
        job = random_job(seed, made_of=made_of)
        od, clearance = job["tube"]["od"], 5
        job["shop"] = {"bends": [{"name": "mandrel 90", "clr": 1.5 * od, "turn": 90, "leg": 20}]}
        job["scene"] = {
            "clearance": clearance,
            "keep_out": [
                {"name": name, "box": {"min": low, "max": high}}
                for name, (low, high) in BOXES.items()
            ],
        }
        run = plan(job).run
        assert bool(run["bends"]) == (made_of == "stock")
        widest = np.radians(max(joint["cut_deg"] for joint in run["joints"]))
        clr = max((bend["clr_mm"] for bend in run["bends"]), default=0)
        modesty = max(od / 2 * (1 / np.cos(widest) - 1), clr * (1 - np.cos(np.radians(3))))
        assert modesty <= 1
        assert [said["name"] for said in run["obstacles"]] == list(BOXES)
        for said in run["obstacles"]:
            assert said["clearance_mm"] == clearance
            assert said["exempt_mm"] == pytest.approx(od / 2 + clearance)
            starts, along = stretches(run, said["exempt_mm"])
            distances, _ = segment_box(starts, along, np.array(BOXES[said["name"]], float))
            yield Room(said["room_mm"], distances.min() - od / 2 - clearance, modesty)

    return find


every_seed = pytest.mark.parametrize("seed", [8, 9, 10, 11])
every_make = pytest.mark.parametrize("made_of", ["pies", "stock"])


@every_seed
@every_make
def test_the_room_that_is_left_is_never_overstated(rooms, seed, made_of):
    for room in rooms(seed, made_of):
        assert -ROOM_MM <= room.said <= room.true + 1e-6


@every_seed
@every_make
def test_the_room_that_is_left_is_hardly_understated(rooms, seed, made_of):
    """Along all of the centerline but `exempt_mm` at each port."""
    for room in rooms(seed, made_of):
        assert room.said >= room.true - room.modesty - CHORDS_MM
