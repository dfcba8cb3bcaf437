"""Tapes of the tack-up rebuilt from plan.json alone: faces from joints, cuts and allowances,
tolerances by differences over builds that scipy's rotations put together; where seams lie.
"""

import json
from dataclasses import dataclass, field

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from conftest import EXAMPLES
from jobs import OFFSET, STACK, TWISTED, U_TURN
from kinematics import across, turned, unit

ELBOWS = {
    "units": "mm",
    "tube": {"od": 60.3, "wall": 2.77},
    "ports": {
        "a": {"center": [0, 0, 0], "outward": [0, 0, 1]},
        "b": {"center": [500, 300, 700], "outward": [-1, 0, 0], "good_to": {"center": 0.4}},
    },
    "runs": [{"name": "elbows", "from": "a", "to": "b", "made_of": "stock"}],
    "shop": {"bends": [{"b16_9": "2 LR 90", "price": 12}]},
}
PINS = {
    "pins": {"A": [700, 0, 0], "B": [0, 700, 100], "C": [600, 650, 900], "D": [-300, -200, 500]},
    "measuring": {"pin": 0.3},
}
WELDS = {"gap": "1.5 mm", "shrinkage": "0.8 mm"}
SETTING = {"accuracy": {"setting": 0.1}}


def with_shop(job, shop):
    return job | {"shop": job.get("shop", {}) | shop}


JOBS = {
    "stack": STACK,
    "offset": OFFSET,
    "u-turn": with_shop(U_TURN, SETTING),
    "twisted": with_shop(TWISTED, SETTING),
    "twisted with pins": with_shop(TWISTED | PINS, SETTING),
    "elbows": with_shop(ELBOWS, SETTING),
    "elbows with pins": with_shop(ELBOWS | PINS, SETTING),
}
every_job = pytest.mark.parametrize("job", JOBS.values(), ids=JOBS.keys())
every_example = pytest.mark.parametrize("job", EXAMPLES, ids=lambda path: path.stem)

# What is written in full and worked out again.
MM = 1e-6
# Differences of 1e-3 of an error, whose third order counts beside their first.
PART = 1e-3
TOLERANCE = 1e-5
CLOCKS = {"long": 0, "right": 90, "short": 180, "left": 270}


# --- the run as it is planned ---


@dataclass
class Tube:
    """A piece where it stands: directions of flow at its start and end."""

    number: int
    edge: float
    axes: list
    arc: dict | None
    cuts: list


def tubes(run):
    """Pieces in order of flow, from the joints alone and the arcs of stock bends."""
    arcs = {arc["piece"]: arc for arc in run["bends"]}
    at = [np.array(joint["at_mm"]) for joint in run["joints"]]
    found = []
    for piece, start, end in zip(run["pieces"], at, at[1:]):
        arc = arcs.get(piece["number"])
        corner = np.array(arc["corner_mm"]) if arc else None
        axes = [unit(corner - start), unit(end - corner)] if arc else [unit(end - start)] * 2
        cuts = [piece["start_cut_deg"], piece["end_cut_deg"]]
        found.append(Tube(piece["number"], piece["length_mm"], axes, arc, cuts))
    return found


def long_side(run, tube, end):
    """Of a miter: the tube is longest where the cut leans back from its outward normal."""
    normal = np.array(run["joints"][tube.number - 1 + end]["normal"])
    return across(-normal if end else normal, tube.axes[end])


def lines(run, pieces):
    """Clock zero of each piece at its start and end; None where it has none of its own."""
    found = []
    for tube in pieces:
        if tube.arc:
            found.append([across(-tube.axes[1], tube.axes[0]), across(tube.axes[0], tube.axes[1])])
        elif tube.cuts[0] > 0:
            found.append([long_side(run, tube, 0)] * 2)
        elif tube.cuts[1] > 0:
            found.append([long_side(run, tube, 1)] * 2)
        else:
            found.append(None)
    for i, line in enumerate(found):
        if line is None:
            found[i] = [found[i - 1][1] if i else found[1][0]] * 2
    return found


@dataclass
class Face:
    """A built face as welded: center, direction of flow, long side, saw angle, and +1 for a
    piece's end or -1 for its start."""

    center: np.ndarray
    axis: np.ndarray
    long: np.ndarray
    cut: float
    out: int
    joint: int
    radius: float

    def at(self, spot):
        return self.center + self.arm(spot)

    def arm(self, spot):
        if spot == "center":
            return np.zeros(3)
        clock = CLOCKS[spot]
        reach = self.radius * np.tan(self.cut) * np.cos(np.radians(clock))
        return self.radius * turned(self.long, self.axis, clock) + self.out * reach * self.axis


def face(plan, run, step):
    number = step["piece"]
    out = 1 if step["from"] == run["from"] else -1
    end = 1 if out > 0 else 0
    pieces = tubes(run)
    tube = pieces[number - 1]
    joint = number if out > 0 else number - 1
    there = run["joints"][joint]
    cut = np.radians(tube.cuts[end])
    set_back = run["allowance"]["gap_mm"] - run["allowance"]["shrinkage_mm"]
    past = -set_back / 2 / np.cos(cut)
    if there["kind"] == "flange":
        socket = plan["ports"][run["to" if end else "from"]]["socket_mm"]
        # Nobody cuts the flange back: all of the gap is the tube's to give.
        past = socket or -set_back
    axis = tube.axes[end]
    long = long_side(run, tube, end) if cut > 0 else lines(run, pieces)[number - 1][end]
    center = np.array(there["at_mm"]) + out * past * axis
    return Face(center, axis, long, cut, out, joint, run["tube"]["od_mm"] / 2)


def unshrunk(plan, run, step):
    """What welds will pull a face back by."""
    last = len(run["pieces"])
    joints = range(0, step["piece"]) if step["from"] == run["from"] else range(step["piece"], last + 1)
    sign = 1 if step["from"] == run["from"] else -1
    ports = {0: plan["ports"][run["from"]], last: plan["ports"][run["to"]]}
    total = np.zeros(3)
    for joint in joints:
        if joint in ports and ports[joint]["socket_mm"] > 0:
            continue
        total += sign * run["allowance"]["shrinkage_mm"] * np.array(run["joints"][joint]["normal"])
    return total


def checks(plan, run):
    """Every tape with its step and face."""
    for step in run["tack_up"]["steps"]:
        if step["face"] is not None:
            there = face(plan, run, step)
            for check in step["checks"]:
                yield step, there, check


def check_distances(plan, run):
    pieces = tubes(run)
    line = lines(run, pieces)
    radius = run["tube"]["od_mm"] / 2
    count = 0
    for step, there, check in checks(plan, run):
        count += 1
        to = there.at(check["to"])
        tacked = to + unshrunk(plan, run, step)
        assert np.linalg.norm(tacked - check["to_mm"]) < MM
        if check["pin"] is not None:
            start = np.array(plan["pins"][check["pin"]]["at_mm"])
        else:
            end = 0 if there.out > 0 else -1
            axis, zero = pieces[end].axes[end], line[end][end]
            mark = turned(zero, axis, check["rim_clock_deg"])
            start = np.array(run["vertices_mm"][end]) + radius * mark
        assert np.linalg.norm(start - check["from_mm"]) < MM
        assert np.linalg.norm(tacked - start) == pytest.approx(check["distance_mm"], abs=MM)
        assert np.linalg.norm(to - start) == pytest.approx(check["welded_mm"], abs=MM)
    return count


@every_job
@pytest.mark.parametrize("shop", [{}, WELDS], ids=["", "welds"])
def test_distances_are_those_between_the_pieces(plan, job, shop):
    planned = plan(with_shop(job, shop))
    assert check_distances(planned.plan, planned.run) > 3


@every_example
def test_distances_of_the_examples(plan, job):
    planned = plan(json.loads(job.read_text()))
    assert sum(check_distances(planned.plan, run) for run in planned.runs) > 3


# --- builds with errors ---


@dataclass
class Errors:
    """By joint or piece number; whatever is not named is exact."""

    cut: dict = field(default_factory=dict)
    clock: dict = field(default_factory=dict)
    bend: dict = field(default_factory=dict)
    length: dict = field(default_factory=dict)
    # By joint and which of its two faces: a rotation vector.
    lean: dict = field(default_factory=dict)


def about(axis, angle):
    return Rotation.from_rotvec(np.asarray(axis) * angle)


def built(plan, run, there, errors):
    """Center of a face as built, and how its places are carried: arm as planned -> as built.

    Everything is turned in the plan's own directions: what is built next is carried by the
    turn of all before it.
    """
    pieces = tubes(run)
    onward = there.out > 0
    number = there.joint if onward else there.joint + 1
    chain = pieces[:number] if onward else pieces[number - 1 :][::-1]
    way = 1 if onward else -1
    last = len(pieces)
    first_joint = 0 if onward else last
    sockets = plan["ports"][run["from" if onward else "to"]]["socket_mm"]
    turn = Rotation.identity()
    if not sockets:
        turn = turn * Rotation.from_rotvec(errors.lean.get((first_joint, 0), np.zeros(3)))
    point = np.array(run["joints"][first_joint]["at_mm"])
    for k, tube in enumerate(chain):
        incoming, outgoing = (way * axis for axis in (tube.axes if onward else tube.axes[::-1]))
        longer = errors.length.get(tube.number, 0)
        if tube.arc is None:
            point = point + turn.apply(incoming) * (tube.edge + longer)
        else:
            legs = tube.arc["legs_mm"] if onward else tube.arc["legs_mm"][::-1]
            clr, angle = tube.arc["clr_mm"], np.radians(tube.arc["turn_deg"])
            # Legs are as cut; joint to joint they are what the arc leaves of the edge.
            corner = clr * np.tan(angle / 2)
            joints = [run["joints"][tube.number - 1 + i]["at_mm"] for i in (0, 1)]
            ends = joints if onward else joints[::-1]
            legs = [np.linalg.norm(np.array(tube.arc["corner_mm"]) - end) - corner for end in ends]
            turn = turn * about(incoming, errors.clock.get(("bend", tube.number), 0))
            more = angle + errors.bend.get(tube.number, 0)
            inward = across(outgoing, incoming)
            arc = clr * ((1 - np.cos(more)) * inward + np.sin(more) * incoming)
            point = point + turn.apply(legs[0] * incoming + arc)
            axis = unit(np.cross(incoming, outgoing))
            turn = turn * about(axis, errors.bend.get(tube.number, 0))
            point = point + turn.apply(outgoing) * (legs[1] + longer)
        joint = tube.number if onward else tube.number - 1
        if k + 1 == len(chain):
            break
        follows = chain[k + 1]
        after = way * (follows.axes[0] if onward else follows.axes[1])
        turn = through(run, joint, outgoing, after, turn, errors, 2)
    past = way * there.axis @ (there.center - np.array(run["joints"][there.joint]["at_mm"]))
    axis = way * there.axis
    tube_turn = turn
    point = point + tube_turn.apply(axis) * past
    kind = run["joints"][there.joint]["kind"]
    normal = way * np.array(run["joints"][there.joint]["normal"])
    if kind == "miter":
        clocked = tube_turn * about(axis, errors.clock.get(there.joint, 0))
        bent = unit(np.cross(axis, normal))
        seen = (clocked * about(bent, errors.cut.get(there.joint, 0))).apply(normal)
        side = clocked
    else:
        lean = Rotation.from_rotvec(errors.lean.get((there.joint, 0), np.zeros(3)))
        seen = (tube_turn * lean).apply(normal)
        side = tube_turn

    def place(arm):
        square = arm - axis * (axis @ arm)
        out = side.apply(square)
        along = tube_turn.apply(axis)
        return point + out - along * (seen @ out) / (seen @ along)

    return place


def through(run, joint, before, after, turn, errors, sides):
    """The turn past a joint between two pieces."""
    if run["joints"][joint]["kind"] == "miter":
        bent = unit(np.cross(before, after))
        clocked = turn * about(before, errors.clock.get(joint, 0))
        return clocked * about(bent, sides * errors.cut.get(joint, 0))
    for one in range(2):
        turn = turn * Rotation.from_rotvec(errors.lean.get((joint, one), np.zeros(3)))
    return turn


def sources(plan, run):
    """One standard deviation of every independent error."""
    accuracy = plan["accuracy"]
    rad = lambda key: np.radians(accuracy[key])
    settings = {}
    for joint in run["joints"]:
        number = joint["number"]
        if joint["kind"] == "miter":
            yield Errors(cut={number: rad("cut_deg")})
            yield Errors(clock={number: rad("clock_deg")})
            settings.setdefault(round(joint["cut_deg"], 4), []).append(number)
            continue
        normal = np.array(joint["normal"])
        first = unit(np.cross(normal, np.eye(3)[np.argmin(np.abs(normal))]))
        for axis in (first, np.cross(normal, first)):
            for one in range(2):
                yield Errors(lean={(number, one): axis * rad("cut_deg") / np.sqrt(2)})
    for tube in tubes(run):
        yield Errors(length={tube.number: accuracy["length_mm"]})
        if tube.arc:
            yield Errors(bend={tube.number: rad("bend_deg")})
            yield Errors(clock={("bend", tube.number): rad("clock_deg")})
    for joints in settings.values():
        yield Errors(cut=dict.fromkeys(joints, rad("setting_deg")))


def scaled(errors, factor):
    return Errors(
        **{
            name: {key: value * factor for key, value in getattr(errors, name).items()}
            for name in ("cut", "clock", "bend", "length", "lean")
        }
    )


def port_variance(plan, run, there, to, way):
    name, end = (run["from"], 0) if there.out > 0 else (run["to"], 1)
    covariance = np.array(plan["ports"][name]["known"]["covariance_mm_rad"])
    arm = to - run["ends"][end]["center_mm"]
    slope = np.concatenate([way, np.cross(arm, way)])
    return slope @ covariance @ slope


def check_tolerances(plan, run):
    exact = {}
    moved = {}
    steps = list(sources(plan, run))
    for step, there, check in checks(plan, run):
        key = step["joint"], step["piece"]
        if key not in moved:
            exact[key] = built(plan, run, there, Errors())
            either = [[built(plan, run, there, scaled(one, s * PART)) for one in steps] for s in (1, -1)]
            moved[key] = list(zip(*either))
        arm = there.arm(check["to"])
        to, start = there.at(check["to"]), np.array(check["from_mm"])
        assert np.linalg.norm(exact[key](arm) - to) < 1e-6, "the bench closes"
        read = lambda place: np.linalg.norm(place(arm) - start)
        slopes = [(read(more) - read(less)) / (2 * PART) for more, less in moved[key]]
        variance = np.sum(np.square(slopes))
        if check["pin"] is not None:
            way = unit(to - start)
            variance += port_variance(plan, run, there, to, way)
            variance += plan["pins"][check["pin"]]["sigma_mm"] ** 2
        expected = run["tack_up"]["deviations"] * np.sqrt(variance)
        assert check["tolerance_mm"] == pytest.approx(expected, rel=TOLERANCE, abs=1e-6)


@every_job
def test_tolerances_are_what_differences_give(plan, job):
    planned = plan(job)
    check_tolerances(planned.plan, planned.run)


@pytest.mark.parametrize("name", ["bay", "duct", "jig", "stack"])
def test_tolerances_of_examples(plan, name):
    (job,) = [path for path in EXAMPLES if path.stem == name]
    planned = plan(json.loads(job.read_text()))
    for run in planned.runs:
        check_tolerances(planned.plan, run)


# --- order, marks and the gap ---


@every_job
def test_every_joint_comes_once_and_the_closure_last(plan, job):
    run = plan(job).run
    steps = run["tack_up"]["steps"]
    assert sorted(step["joint"] for step in steps) == list(range(len(run["joints"])))
    numbers = [step["piece"] for step in steps if step["piece"] is not None]
    assert sorted(numbers) == [piece["number"] for piece in run["pieces"]]
    closure = run["stack_up"]["closure"]
    if closure is None:
        assert run["tack_up"]["gap"] is None
        return
    last = closure["piece"]
    assert [step["joint"] for step in steps[-2:]] == [last - 1, last]
    assert run["tack_up"]["gap"]["piece"] == last


@every_job
def test_marks_meet(plan, job):
    run = plan(job).run
    pieces = tubes(run)
    line = lines(run, pieces)
    for step in run["tack_up"]["steps"]:
        before, after = step["marks"]["before"], step["marks"]["after"]
        for mark in (before, after):
            if mark:
                expected = mark["clock_deg"] / 360 * np.pi * run["tube"]["od_mm"]
                assert mark["round_mm"] == pytest.approx(expected, abs=MM)
        if not (before and after):
            continue
        a, b = before["piece"] - 1, after["piece"] - 1
        sides = [
            turned(line[a][1], pieces[a].axes[1], before["clock_deg"]),
            turned(line[b][0], pieces[b].axes[0], after["clock_deg"]),
        ]
        there = run["joints"][step["joint"]]
        radius = run["tube"]["od_mm"] / 2
        normal, at = np.array(there["normal"]), np.array(there["at_mm"])
        places = []
        for side, axis in zip(sides, (pieces[a].axes[1], pieces[b].axes[0])):
            place = at + radius * side
            places.append(place + axis * (normal @ (at - place)) / (normal @ axis))
        assert np.linalg.norm(places[0] - places[1]) < MM


@every_job
def test_the_gap_is_what_the_closure_fills(plan, job):
    run = plan(job).run
    gap = run["tack_up"]["gap"]
    if gap is None:
        return
    piece = run["pieces"][gap["piece"] - 1]
    widths = {width["at"]: width["distance_mm"] for width in gap["widths"]}
    assert widths["center"] == pytest.approx(piece["cut_length_mm"], abs=MM)
    # The sides of a tube cut at both ends, from its own line.
    radius = run["tube"]["od_mm"] / 2
    cuts = np.radians([piece["start_cut_deg"], piece["end_cut_deg"]])
    clock = np.radians(piece["clock_deg"])
    for spot, degrees in CLOCKS.items():
        t = np.radians(degrees)
        extra = np.tan(cuts[0]) * np.cos(t) + np.tan(cuts[1]) * np.cos(t - clock)
        assert widths[spot] == pytest.approx(piece["cut_length_mm"] + radius * extra, abs=MM)
    for width in gap["widths"]:
        apart = np.linalg.norm(np.array(width["to_mm"]) - width["from_mm"])
        assert width["distance_mm"] == pytest.approx(apart, abs=MM)


# --- seams ---


def sides_on_stick(run):
    """Clock of every long side from the scribed line, modulo half a turn, from the saw."""
    return np.array([row["mark_deg"] % 180 for row in run["saw"] if row["angle_deg"] > 0])


def off(seam, sides):
    apart = (seam - sides) % 180
    return np.minimum(apart, 180 - apart).min()


@every_job
def test_no_other_offset_keeps_seams_farther_off(plan, job):
    run = plan(job).run
    sides = sides_on_stick(run)
    if not len(sides):
        assert run["seams"]["worst"] is None
        return
    found = off(run["seams"]["offset_deg"], sides)
    assert run["seams"]["worst"]["margin_deg"] == pytest.approx(found, abs=1e-9)
    assert max(off(seam, sides) for seam in np.arange(0, 180, 0.01)) <= found + 1e-9
    for joint in run["seams"]["joints"]:
        assert joint["apart_deg"] == pytest.approx(180)


def test_seams_in_line_and_seamless(plan):
    run = plan(with_shop(OFFSET, {"seams": "in_line"})).run
    assert run["seams"]["lie"] == "in_line"
    assert any(piece["turned"] for piece in run["seams"]["pieces"])
    seamless = OFFSET | {"tube": OFFSET["tube"] | {"seam": False}}
    assert plan(seamless).run["seams"] is None
