"""Planned runs against a global search by scipy for the same money under the same limits.

The reference minimizes what the shop pays, at the rates in plan.json: saw settings (square
included; equal cuts share one), stops (one for each piece between bends or ports, one for
all pies of one length), clocks (bends that turn out of the plane of the bend before), cuts,
fit-ups, weld, and tube with its kerf. It searches two and three corners, and the jobs ask
for three bends at most:

1. differential_evolution over the corners, joints per bend by the rule (the fewest at or
   under the usual cut), a penalty for what is violated. The best corners met for every
   choice of joints are kept.
2. SLSQP from there: joints fixed, money minimized within the limits, for the most
   promising choices of joints; then for all choices a joint more or less at any bend than
   the best, until none is better. Each with every bend free, and with bends held to one
   saw setting where the set-up saved could pay.

The search measures by formulas for corners, legs and turns. What counts in the end, for
its routes and for planned ones alike, is worked out anew from the vertices alone.

Only numbers that say what is asked for are read from a plan: ports, tube, limits, rates.
"""

import json
import time
from dataclasses import dataclass, replace
from itertools import combinations, product
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest
from scipy.optimize import differential_evolution, minimize, minimize_scalar
from scipy.special import ellipe

from conftest import runwright
from jobs import millimeters, random_job
from kinematics import across, unit

# How much faster planning must be, with process start and writing files, than the search
# by scipy. Seen: 26 to 96 on two cores with four other jobs on them, which slows planning
# more: it uses both cores.
SPEEDUP = 15
# The same for a differential_evolution that is not vectorized, on these problems, though it
# searches only as many bends as the cheapest route has. Seen: 72 and 379 with a development
# build.
PLAIN_SPEEDUP = 50
PLAIN_PROBLEMS = ["random-1", "random-4"]
# Planning is timed this often, and its best counts; scipy's search runs once.
TIMINGS = 3

# What the jobs ask for at most; two and more are searched.
MOST_BENDS = 3

# Members a variable, and generations, of differential_evolution; everything else that
# is not in `evolve` is scipy's default.
DE_POPSIZE = {2: 60, 3: 30}
DE_GENERATIONS = {2: 200, 3: 400}
# Choices of joints that SLSQP begins with, for each number of corners.
CHOICES = 10

# Cuts this close are one saw setting, lengths of pies one stop, and bends whose clock is
# this near to 0 or 180 degrees lie in one plane, as the program counts them.
SAME_SETTING = np.radians(1e-5)
SAME_STOP_MM = 0.1
SAME_PLANE = np.radians(0.01)
# How far apart SLSQP lets cuts be that it holds to one setting: a hair less than that.
HELD_WITHIN = SAME_SETTING * 0.999
# No bend turns more.
MOST_TURN = np.radians(170)
# Rounding that both searches are given: mm, part of the job's size, and radians.
SLACK_MM, SLACK_PART, SLACK_ANGLE = 1e-5, 5e-8, 1e-7
# No constraint here: far more than any margin in mm.
FREE = 1e4


# --- problems ---


def problem(seed):
    return random_job(seed, max_bends=MOST_BENDS)


def kept_out(seed, *boxes):
    """The same with boxes in the way of the run that it gets without them."""
    keep_out = [
        {"name": f"box {i}", "box": {"min": low, "max": high}}
        for i, (low, high) in enumerate(boxes)
    ]
    return problem(seed) | {"scene": {"clearance": "5 mm", "keep_out": keep_out}}


OPEN_PROBLEMS = {f"random-{seed}": problem(seed) for seed in range(1, 8)}
KEEP_OUT_PROBLEMS = {
    "keep-out-8": kept_out(8, ([180, -120, -280], [220, -40, -180])),
    "keep-out-9": kept_out(9, ([-200, -50, 240], [-150, 60, 300])),
    "keep-out-10": kept_out(
        10, ([-60, -260, 100], [0, -200, 180]), ([-120, -420, 240], [-20, -360, 320])
    ),
}
PROBLEMS = OPEN_PROBLEMS | KEEP_OUT_PROBLEMS

every_problem = pytest.mark.parametrize("problem", PROBLEMS)


# --- what is asked for ---


@dataclass(frozen=True)
class Task:
    """One run to be routed, in mm and radians. Tangents point along the flow."""

    start: np.ndarray
    start_tangent: np.ndarray
    start_straight: float
    end: np.ndarray
    end_tangent: np.ndarray
    end_straight: float
    radius: float
    clr: float
    between: float
    usual_cut: float
    max_cut: float
    min_short_side: float
    rates: dict
    boxes: np.ndarray
    clearance: float

    @classmethod
    def of(cls, plan, job):
        (run,) = plan["runs"]
        start, end = plan["ports"][run["from"]], plan["ports"][run["to"]]
        limits, rates = run["limits"], run["rates"]
        assert limits["clr_min_mm"] == limits["clr_max_mm"], "a CLR range is not searched here"
        assert limits["most_bends"] == MOST_BENDS, "other numbers of bends are not searched here"
        assert limits["saw_angles_deg"] == limits["stock"] == [], "pies of any cut are meant"
        assert rates["run_per_meter"] == rates["flow_loss"] == 0, "money alone is compared here"
        assert not any(run["allowance"].values()), "allowances are left out here"
        assert start["socket_mm"] == end["socket_mm"] == 0, "sockets are left out here"
        scene = job.get("scene", {"clearance": 0, "keep_out": []})
        boxes = [
            [[millimeters(job, x) for x in item["box"][corner]] for corner in ("min", "max")]
            for item in scene["keep_out"]
        ]
        return cls(
            start=np.array(start["center_mm"]),
            start_tangent=unit(start["outward"]),
            start_straight=start["straight_mm"],
            end=np.array(end["center_mm"]),
            end_tangent=-unit(end["outward"]),
            end_straight=end["straight_mm"],
            radius=run["tube"]["od_mm"] / 2,
            clr=limits["clr_min_mm"],
            between=limits["between_mm"],
            usual_cut=np.radians(limits["usual_cut_deg"]),
            max_cut=np.radians(limits["max_cut_deg"]),
            min_short_side=limits["min_short_side_mm"],
            rates=rates,
            boxes=np.array(boxes).reshape(-1, 2, 3),
            clearance=millimeters(job, scene["clearance"]),
        )

    @property
    def size(self):
        return np.linalg.norm(self.end - self.start) + self.clr

    @property
    def slack(self):
        return max(SLACK_MM, SLACK_PART * self.size)

    def greatest_turn(self, joints):
        """The usual cut at each joint; up to the greatest cut where pies of a joint more
        would be too short on the inside."""
        inside = self.clr - self.radius
        least_pie_cut = np.arctan2(self.min_short_side, 2 * inside) if inside > 0 else np.pi / 2
        one_more = np.minimum(2 * (joints + 1) * least_pie_cut, 2 * joints * self.max_cut)
        return np.minimum(np.maximum(2 * joints * self.usual_cut, one_more), MOST_TURN)

    def money(self, settings, stops, clocks, cuts, length):
        """What the shop pays. `cuts` are the miters' angles, on the last axis."""
        rates, joints = self.rates, cuts.shape[-1]
        minutes = (joints + 2) * rates["cut_minutes"] + joints * rates["fit_up_minutes"]
        work = self.price(minutes, length + 2 * rates["kerf_mm"]) + self.per_joint(cuts).sum(-1)
        return work + self.setting_up(settings, stops, clocks)

    def setting_up(self, settings, stops, clocks):
        """Money for what is counted once for many cuts."""
        rates = self.rates
        minutes = settings * rates["setup_minutes"] + stops * rates["stop_minutes"]
        return self.price(minutes + clocks * rates["clock_minutes"], 0)

    def price(self, minutes, tube):
        hours, meters = minutes / 60, tube / 1000
        return hours * self.rates["labor_per_hour"] + meters * self.rates["tube_per_meter"]

    def per_joint(self, cuts):
        """Money for a joint's weld and kerf. The weld is an ellipse's perimeter, 4aE(m)
        with a = r/cos κ and m = sin²κ."""
        weld = 4 * self.radius / np.cos(cuts) * ellipe(np.sin(cuts) ** 2)
        return self.price(
            weld / self.rates["weld_mm_per_minute"], self.rates["kerf_mm"] / np.cos(cuts)
        )


def groups(values, same):
    """Groups among the finite `values` (on the last axis): each is within `same` of a
    neighbor."""
    ordered = np.sort(values, axis=-1)
    # Infinite ones come last; what is infinitely far apart is no number.
    first = np.isfinite(ordered[..., 0])
    with np.errstate(invalid="ignore"):
        steps = np.diff(ordered, axis=-1)
    return first + ((steps > same) & np.isfinite(steps)).sum(-1)


def stops(pies):
    """Lengths that the stop is set to where bends have pies of these lengths (on the last
    axis), infinite where there is none: one for each piece between bends or ports too."""
    return pies.shape[-1] + 1 + groups(pies, SAME_STOP_MM)


def saw_settings(cuts):
    """Saw settings among `cuts` (on the last axis) and square."""
    square = np.zeros(cuts.shape[:-1] + (1,))
    return groups(np.concatenate([square, cuts], axis=-1), SAME_SETTING)


def turns_out_of_plane(normals):
    """How many bends turn out of the plane of the bend before; `normals` (…, bends, 3) are
    units square to the bends' planes."""
    before, after = normals[..., :-1, :], normals[..., 1:, :]
    # The sine of the angle between two planes.
    sin = np.linalg.norm(np.cross(before, after), axis=-1)
    return (sin > np.sin(SAME_PLANE)).sum(-1)


# --- a run from its vertices alone ---


@dataclass(frozen=True)
class Measured:
    """What a polyline costs and what is counted for it; how far it is from breaking each
    limit: mm, radians."""

    money: float
    counts: dict
    lengths: dict
    angles: dict

    def broken(self, slack):
        return {name: margin for name, margin in self.lengths.items() if margin < -slack} | {
            name: margin for name, margin in self.angles.items() if margin < -SLACK_ANGLE
        }


def measure(task, vertices, joints):
    """The run along `vertices` whose bends have so many joints each, in order."""
    vertices = np.asarray(vertices, float)
    assert len(vertices) == sum(joints) + 2
    edges = np.diff(vertices, axis=0)
    lengths = np.linalg.norm(edges, axis=1)
    axes = edges / lengths[:, None]
    # The chord between two axes is 2 sin(δ/2) = 2 sin κ.
    cuts = np.arcsin(np.linalg.norm(np.diff(axes, axis=0), axis=1) / 2)
    margins = {
        "start": -np.linalg.norm(vertices[0] - task.start),
        "end": -np.linalg.norm(vertices[-1] - task.end),
    }
    angles = {
        "start axis": -np.linalg.norm(axes[0] - task.start_tangent),
        "end axis": -np.linalg.norm(axes[-1] - task.end_tangent),
    }

    # Bends: tangent polygons of arcs of the one CLR, within the cuts that are allowed.
    straights, planes, pies, first = lengths.copy(), [], [], 0
    for bend, count in enumerate(joints):
        last = first + count
        own, normals = cuts[first:last], np.cross(axes[first:last], axes[first + 1 : last + 1])
        normals /= np.linalg.norm(normals, axis=1)[:, None]
        planes.append(normals[0])
        turn = own.sum() * 2
        angles[f"bend {bend}: one cut"] = -np.ptp(own)
        angles[f"bend {bend}: in one plane"] = -np.abs(normals - normals[0]).max()
        angles[f"bend {bend}: turn"] = task.greatest_turn(count) - turn
        angles[f"bend {bend}: greatest cut"] = task.max_cut - own.max()
        half_pie = task.clr * np.tan(turn / (2 * count))
        own_pies = lengths[first + 1 : last]
        pies.append(own_pies.mean() if count > 1 else np.inf)
        margins[f"bend {bend}: CLR"] = -np.abs(own_pies - 2 * half_pie).max(initial=0)
        straights[first] -= half_pie
        straights[last] -= half_pie
        first = last
    ends = np.cumsum([0, *joints])
    least = [task.start_straight, *[task.between] * (len(joints) - 1), task.end_straight]
    for leg, (edge, floor) in enumerate(zip(ends, least, strict=True)):
        margins[f"straight {leg}"] = straights[edge] - floor

    # Pieces: the sides' lengths are L + r·(tan κ₁ cos(t - τ₁) + tan κ₂ cos(t - τ₂)).
    for piece, axis in enumerate(axes):
        slant = np.zeros(3)
        if piece > 0:
            slant += np.tan(cuts[piece - 1]) * across(axes[piece - 1], axis)
        if piece < len(cuts):
            slant -= np.tan(cuts[piece]) * across(axes[piece + 1], axis)
        short = lengths[piece] - task.radius * np.linalg.norm(slant)
        margins[f"piece {piece + 1}: short side"] = short - task.min_short_side

    widest = np.maximum([0, *cuts], [*cuts, 0])
    radii = task.radius / np.cos(widest)
    # Parts of a tube with half a turn between them may lie across from each other.
    for i, j in combinations(range(len(axes)), 2):
        if 2 * cuts[i:j].sum() >= np.pi - 1e-9:
            apart = segment_distance(vertices[i : i + 2], vertices[j : j + 2])
            margins[f"pieces {i + 1} and {j + 1}"] = apart - radii[i] - radii[j]
    if len(task.boxes):
        apart = box_distances(task, vertices)[0] - radii[:, None] - task.clearance
        for (edge, box), margin in np.ndenumerate(apart):
            margins[f"piece {edge + 1} and box {box}"] = margin

    counts = {
        "setups": saw_settings(cuts),
        "stops": stops(np.array(pies)),
        "clocks": turns_out_of_plane(np.array(planes)),
    }
    money = task.money(*counts.values(), cuts, lengths.sum())
    return Measured(float(money), counts, margins, angles)


def segment_distance(first, second):
    """Least distance between two segments: inside both, or else from an end of one."""

    def to_segment(point, ends):
        along = ends[1] - ends[0]
        part = np.clip((point - ends[0]) @ along / (along @ along), 0, 1)
        return np.linalg.norm(ends[0] + part * along - point)

    a, b, gap = first[1] - first[0], second[1] - second[0], second[0] - first[0]
    best = min(
        *(to_segment(point, second) for point in first),
        *(to_segment(point, first) for point in second),
    )
    normal = np.cross(a, b)
    if normal @ normal > 1e-12 * (a @ a) * (b @ b):
        s = np.cross(gap, b) @ normal / (normal @ normal)
        t = np.cross(gap, a) @ normal / (normal @ normal)
        if 0 <= s <= 1 and 0 <= t <= 1:
            best = min(best, abs(gap @ normal) / np.linalg.norm(normal))
    return best


def box_distances(task, vertices):
    """From each edge of polylines (…, vertices, 3) to each box, (…, edges, boxes): the
    distance, and how much of the edge lies inside the box.

    Tube within its radius and the clearance of a port's face is left out; an edge that
    lies there altogether is as far as FREE.
    """
    a, edges = vertices[..., :-1, :], np.diff(vertices, axis=-2)
    lengths = np.linalg.norm(edges, axis=-1)
    after = np.cumsum(lengths, axis=-1)
    skipped = task.radius + task.clearance
    some = np.maximum(lengths, 1e-12)
    first = np.clip((skipped - (after - lengths)) / some, 0, None)
    last = np.clip(1 - (skipped - (after[..., -1:] - after)) / some, None, 1)
    asked = first < last
    a, along = a + edges * np.minimum(first, 1)[..., None], edges * (last - first)[..., None]
    along = np.where(asked[..., None], along, 0)
    distance, inside = segment_box(a[..., None, :], along[..., None, :], task.boxes)
    return np.where(asked[..., None], distance, FREE), np.where(asked[..., None], inside, 0)


def segment_box(a, along, box):
    """Distance from segments a + t·along, 0 <= t <= 1, to boxes (…, 2, 3), exactly; and
    the length inside.

    Squared distance is convex in t and quadratic between the t at which the segment
    passes a face's plane. So its slope rises and is linear between them: interpolate
    where it changes sign.
    """
    low, high = box[..., 0, :], box[..., 1, :]
    a, along, low, high = np.broadcast_arrays(a, along, low, high)

    def outside(t):
        """At each t on the last axis."""
        point = a[..., None, :] + t[..., None] * along[..., None, :]
        return np.maximum(point - high[..., None, :], 0) - np.maximum(low[..., None, :] - point, 0)

    moving = np.where(np.abs(along) > 1e-12, along, np.inf)
    passes = np.concatenate([(low - a) / moving, (high - a) / moving], axis=-1)
    ends = np.zeros(passes.shape[:-1] + (1,))
    at = np.sort(np.concatenate([ends, np.clip(passes, 0, 1), ends + 1], axis=-1), axis=-1)
    slopes = np.einsum("...tx,...x->...t", outside(at), along)
    # The last t with a negative slope, and the next.
    before = np.maximum((slopes < 0).sum(-1) - 1, 0)[..., None]
    after = np.minimum(before + 1, at.shape[-1] - 1)
    t0, t1 = (np.take_along_axis(at, i, -1)[..., 0] for i in (before, after))
    g0, g1 = (np.take_along_axis(slopes, i, -1)[..., 0] for i in (before, after))
    part = np.clip(-g0 / np.where(g1 > g0, g1 - g0, 1), 0, 1)
    t = np.where(g0 >= 0, t0, t0 + part * (t1 - t0))
    distance = np.linalg.norm(outside(t[..., None])[..., 0, :], axis=-1)

    still = np.abs(along) <= 1e-12
    enter, leave = np.minimum(*np.split(passes, 2, -1)), np.maximum(*np.split(passes, 2, -1))
    within = (low <= a) & (a <= high)
    enter = np.where(still, np.where(within, 0, 1), enter).max(-1).clip(0, 1)
    leave = np.where(still, np.where(within, 1, 0), leave).min(-1).clip(0, 1)
    return distance, np.maximum(leave - enter, 0) * np.linalg.norm(along, axis=-1)


# --- the reference search ---


@dataclass(frozen=True)
class Shapes:
    """Many routes of one number of corners; the first axis counts routes."""

    corners: np.ndarray
    legs: np.ndarray
    lengths: np.ndarray
    turns: np.ndarray
    take_outs: np.ndarray


class Search:
    """Routes of `corners` corners. Variables, in units of the job's size: s and t, how far
    the first and last corner lie out along their ports' axes, and the corners between."""

    def __init__(self, task, corners):
        self.task, self.corners = task, corners
        self.archive = {}

    def bounds(self):
        low = np.minimum(self.task.start, self.task.end) / self.task.size - 0.75
        high = np.maximum(self.task.start, self.task.end) / self.task.size + 0.75
        between = list(zip(low, high, strict=True)) * (self.corners - 2)
        return [(0, 1.5), (0, 1.5), *between]

    def shapes(self, x):
        task = self.task
        x = x * task.size
        first = task.start + x[:, :1] * task.start_tangent
        last = task.end - x[:, 1:2] * task.end_tangent
        middle = x[:, 2:].reshape(len(x), -1, 3)
        corners = np.concatenate([first[:, None], middle, last[:, None]], axis=1)
        between = np.diff(corners, axis=1)
        norms = np.linalg.norm(between, axis=2)
        ends = np.broadcast_to([task.start_tangent, task.end_tangent], (len(x), 2, 3))
        inner = between / np.maximum(norms, 1e-12)[..., None]
        legs = np.concatenate([ends[:, :1], inner, ends[:, 1:]], axis=1)
        before, after = legs[:, :-1], legs[:, 1:]
        sin = np.linalg.norm(np.cross(before, after), axis=2)
        turns = np.arctan2(sin, (before * after).sum(2))
        lengths = np.concatenate([x[:, :1], norms, x[:, 1:2]], axis=1)
        # Beyond the greatest turn a corner only has to find its way back.
        take_outs = task.clr * np.tan(np.minimum(turns, MOST_TURN + 0.05) / 2)
        return Shapes(corners, legs, lengths, turns, take_outs)

    def by_rule(self, turns):
        """The fewest joints at or under the usual cut."""
        counts = np.arange(1, int(np.ceil(MOST_TURN / (2 * self.task.usual_cut))) + 1)
        fits = turns[..., None] <= self.task.greatest_turn(counts) + SLACK_ANGLE
        return np.where(fits.any(-1), fits.argmax(-1), len(counts) - 1) + 1

    def margins(self, shapes, joints):
        """How far each limit is from binding, in mm; and mm of tube inside boxes."""
        task = self.task
        cuts = shapes.turns / (2 * joints)
        half_pies = task.clr * np.tan(cuts)
        edge = np.zeros((len(cuts), 1))
        straights = shapes.lengths - np.hstack([edge, shapes.take_outs])
        straights -= np.hstack([shapes.take_outs, edge])
        least = [task.start_straight, *[task.between] * (self.corners - 1), task.end_straight]
        pies = 2 * (task.clr - task.radius) * np.tan(cuts) - task.min_short_side
        margins = [
            straights - np.array(least),
            task.clr * (task.greatest_turn(joints) - shapes.turns),
            np.where(joints > 1, pies, FREE),
            self.short_sides(shapes, straights, cuts) - task.min_short_side,
        ]
        inside = 0
        if len(task.boxes):
            apart, inside = self.box_margins(shapes, joints, cuts, half_pies)
            margins.append(apart.reshape(len(cuts), -1))
            inside = inside.sum((1, 2))
        return np.hstack(margins), inside

    def short_sides(self, shapes, straights, cuts):
        """Of the pieces that are a leg with the half pies at its ends."""
        task = self.task
        sizes = np.tan(cuts)
        edge = np.zeros((len(cuts), 1))
        lengths = straights + task.clr * (np.hstack([edge, sizes]) + np.hstack([sizes, edge]))
        before, after = shapes.legs[:, :-1], shapes.legs[:, 1:]

        def reach(leg, other):
            square = other - leg * (leg * other).sum(2, keepdims=True)
            norm = np.linalg.norm(square, axis=2, keepdims=True)
            return sizes[..., None] * square / np.maximum(norm, 1e-12)

        slants = np.zeros_like(shapes.legs)
        slants[:, 1:] += reach(after, before)
        slants[:, :-1] -= reach(before, after)
        return lengths - task.radius * np.linalg.norm(slants, axis=2)

    def vertices(self, shapes, joints):
        """Polylines; bends of fewer joints than the most repeat their last vertex."""
        task = self.task
        before, after = shapes.legs[:, :-1], shapes.legs[:, 1:]
        inward = after - before * (before * after).sum(2, keepdims=True)
        inward /= np.maximum(np.linalg.norm(inward, axis=2, keepdims=True), 1e-12)
        start = shapes.corners - before * shapes.take_outs[..., None]
        middle = start + task.clr * inward
        cuts = shapes.turns / (2 * joints)
        steps = np.minimum(np.arange(np.max(joints)), joints[..., None] - 1)
        angle = (cuts[..., None] * (2 * steps + 1))[..., None]
        spoke = task.clr / np.cos(cuts)[..., None, None]
        out = np.sin(angle) * before[:, :, None] - np.cos(angle) * inward[:, :, None]
        joint = (middle[:, :, None] + spoke * out).reshape(len(cuts), -1, 3)
        ends = np.broadcast_to([task.start, task.end], (len(cuts), 2, 3))
        return np.concatenate([ends[:, :1], joint, ends[:, 1:]], axis=1)

    def box_margins(self, shapes, joints, cuts, half_pies):
        joints = np.broadcast_to(joints, cuts.shape)
        apart, inside = box_distances(self.task, self.vertices(shapes, joints))
        every = np.repeat(cuts, np.max(joints), axis=1)
        edge = np.zeros((len(cuts), 1))
        widest = np.maximum(np.hstack([edge, every]), np.hstack([every, edge]))
        reach = self.task.radius / np.cos(widest) + self.task.clearance
        return apart - reach[..., None], inside

    def counted(self, shapes, joints):
        """Money for saw settings, stops and clocks."""
        task = self.task
        cuts = shapes.turns / (2 * joints)
        pies = np.where(joints > 1, 2 * task.clr * np.tan(cuts), np.inf)
        normals = np.cross(shapes.legs[:, :-1], shapes.legs[:, 1:])
        normals /= np.maximum(np.linalg.norm(normals, axis=2, keepdims=True), 1e-12)
        return task.setting_up(saw_settings(cuts), stops(pies), turns_out_of_plane(normals))

    def work(self, shapes, joints):
        """Money but for what is counted once for many cuts."""
        task, rates = self.task, self.task.rates
        cuts = shapes.turns / (2 * joints)
        length = shapes.lengths.sum(1) - 2 * shapes.take_outs.sum(1)
        length += (2 * joints * task.clr * np.tan(cuts)).sum(1)
        count = np.sum(joints, axis=-1)
        minutes = (count + 2) * rates["cut_minutes"] + count * rates["fit_up_minutes"]
        welded = (joints * task.per_joint(cuts)).sum(1)
        return task.price(minutes, length + 2 * rates["kerf_mm"]) + welded

    def evolve(self, seed, plain=False):
        """differential_evolution; fills the archive with (energy, x) by joints.

        `plain`: a member at a time, scipy's defaults for that, as one writes it first.
        """
        task = self.task

        def energies(x):
            x = x.T
            shapes = self.shapes(x)
            joints = self.by_rule(shapes.turns)
            margins, inside = self.margins(shapes, joints)
            violated = np.maximum(-margins - task.slack, 0).sum(1) + inside
            money = self.work(shapes, joints) + self.counted(shapes, joints)
            # A joint saved never pays for a violation, nor does tube.
            joint = task.per_joint(np.zeros(1))[0]
            money += np.where(violated > 0, 2 * joint + task.price(0, 20 * violated), 0)
            for key, energy, at in zip(map(tuple, joints.tolist()), money, x, strict=True):
                if key not in self.archive or energy < self.archive[key][0]:
                    self.archive[key] = (energy, at.copy())
            return money

        together = {"func": energies, "vectorized": True, "updating": "deferred"}
        one_by_one = {"func": lambda x: energies(x[:, None])[0]}
        differential_evolution(
            **(one_by_one if plain else together),
            bounds=self.bounds(),
            popsize=DE_POPSIZE[self.corners],
            maxiter=DE_GENERATIONS[self.corners],
            tol=1e-8,
            polish=False,
            rng=seed,
        )

    def polish(self, x, joints, tied=()):
        """SLSQP from `x`: least money with these joints; pairs of bends in `tied` are
        held to one saw setting."""
        task, joints = self.task, np.array(joints)
        pairs = np.array(tied, int).reshape(-1, 2)
        step = 1e-6

        def look(many):
            shapes = self.shapes(many)
            margins, _ = self.margins(shapes, joints)
            cuts = shapes.turns / (2 * joints)
            apart = cuts[:, pairs[:, 0]] - cuts[:, pairs[:, 1]]
            ties = np.hstack([HELD_WITHIN - apart, HELD_WITHIN + apart]) * task.clr
            return self.work(shapes, joints), np.hstack([margins, ties]) / task.size

        # SLSQP asks for values and slopes apart, at the same x; together they take hardly
        # longer than one of them.
        @remember
        def look_round(x):
            moves, n = step * np.eye(len(x)), len(x)
            money, margins = look(np.concatenate([[x], x + moves, x - moves]))
            money_slopes = (money[1 : n + 1] - money[n + 1 :]) / (2 * step)
            margin_slopes = (margins[1 : n + 1] - margins[n + 1 :]).T / (2 * step)
            return money[0], money_slopes, margins[0], margin_slopes

        found = minimize(
            lambda x: look_round(x)[:2],
            x,
            jac=True,
            method="SLSQP",
            constraints={
                "type": "ineq",
                "fun": lambda x: look_round(x)[2],
                "jac": lambda x: look_round(x)[3],
            },
            options={"ftol": 1e-11, "maxiter": 100},
        )
        return found.x if np.isfinite(found.x).all() else x

    def route(self, x, joints):
        """The polyline at `x`, measured; None if it breaks a limit."""
        shapes = self.shapes(x[None])
        counts = np.array([joints])
        (line,) = self.vertices(shapes, counts)
        # Without the repeats of bends with fewer joints than the most.
        kept = [step < count for count in joints for step in range(max(joints))]
        line = line[[True, *kept, True]]
        if np.linalg.norm(np.diff(line, axis=0), axis=1).min() < 1e-6 or shapes.turns.min() < 1e-6:
            return None
        measured = measure(self.task, line, joints)
        if measured.broken(self.task.slack):
            return None
        formula = self.work(shapes, counts)[0] + self.counted(shapes, counts)[0]
        assert measured.money == pytest.approx(formula, rel=1e-9), "two ways to the same money"
        return Route(measured.money, joints, line, x)

    def least(self, joints):
        """Less than any route with these joints costs: the chord, square welds, one cut,
        one length of pie at most."""
        chord = np.linalg.norm(self.task.end - self.task.start)
        legs = len(joints) + 1
        return self.task.money(2, legs, 0, np.zeros(sum(joints)), chord)

    def best(self):
        """The cheapest route found from the archive; None if there is none."""
        ranked = sorted(self.archive, key=lambda joints: self.archive[joints][0])
        best, center, tried = None, None, set()
        choices = ranked[:CHOICES]
        # With its setting a tied bend shares the length of its pies.
        saved = self.task.setting_up(1, 1, 0)
        while choices:
            for joints in choices:
                tried.add(joints)
                if best and self.least(joints) >= best.money:
                    continue
                # The best corners met with these joints, or with the nearest; the best
                # met at all; the best route so far.
                near = min(ranked, key=lambda key: np.abs(np.subtract(key, joints)).sum())
                starts = [self.archive[key][1] for key in dict.fromkeys([near, ranked[0]])]
                starts += [best.x] if best else []
                free = self.cheapest(starts, joints)
                best = cheaper(best, free)
                for tied in TIES[self.corners] if free else []:
                    if free.money - saved * len(tied) < best.money:
                        tied_one = self.cheapest([free.x, *starts], joints, tied)
                        best = cheaper(best, tied_one)
            choices = []
            if best and best.joints != center:
                center = best.joints
                offsets = product((0, -1, 1), repeat=self.corners)
                nearby = [tuple(np.add(center, offset).tolist()) for offset in offsets]
                choices = [near for near in nearby if min(near) >= 1 and near not in tried]
        return best

    def cheapest(self, starts, joints, tied=()):
        """The cheapest route with these joints that SLSQP finds from `starts`."""
        best = None
        for x in starts:
            best = cheaper(best, self.route(self.polish(x, joints, tied), joints))
        return best


def cheaper(first, second):
    """The cheaper of two routes, either of which may be None."""
    found = [route for route in (first, second) if route]
    return min(found, key=lambda route: route.money, default=None)


# Which bends may share saw settings, as pairs; two pairs tie three bends.
TIES = {
    2: [((0, 1),)],
    3: [((0, 1),), ((0, 2),), ((1, 2),), ((0, 1), (1, 2))],
}


@dataclass(frozen=True)
class Route:
    """A route that keeps every limit, by its vertices alone; the variables it comes from."""

    money: float
    joints: tuple
    vertices: np.ndarray
    x: np.ndarray


def remember(function):
    """`function` with its last result kept."""
    last = [None, None]

    def call(x):
        if last[0] is None or not np.array_equal(last[0], x):
            last[:] = x.copy(), function(x)
        return last[1]

    return call


# --- both on every problem ---


@dataclass(frozen=True)
class Solved:
    """One problem as planned and as scipy solves it; times in seconds."""

    job: dict
    task: Task
    run: dict
    planning: float
    # By number of bends; None where no route was found.
    routes: dict
    # By number of bends, what differential_evolution and SLSQP take.
    evolving: dict
    polishing: dict
    # What differential_evolution takes that is not vectorized, for as many bends as the
    # cheapest route has; where asked for.
    plainly: float | None = None

    @property
    def best(self):
        return cheaper(*self.routes.values())

    @property
    def money(self):
        return self.run["cost"]["money"]

    @property
    def joints(self):
        return tuple(bend["joints"] for bend in self.run["pie_bends"])

    @property
    def counts(self):
        return {name: self.run["cost"][name] for name in ("setups", "stops", "clocks")}

    @property
    def searching(self):
        return sum(self.evolving.values()) + sum(self.polishing.values())

    @property
    def searching_plainly(self):
        return self.plainly + self.polishing[len(self.best.joints)]

    @property
    def speedup(self):
        return self.searching / self.planning

    @property
    def plain_speedup(self):
        return self.searching_plainly / self.planning


SOLVED = {}


def solved(problem):
    """Both solutions, found when first asked for."""
    if problem not in SOLVED:
        job = PROBLEMS[problem]
        plan, planning = planned(job)
        task = Task.of(plan, job)
        routes, evolving, polishing = {}, {}, {}
        for corners in TIES:
            search = Search(task, corners)
            _, evolving[corners] = timed(search.evolve, seed=1)
            routes[corners], polishing[corners] = timed(search.best)
        SOLVED[problem] = Solved(job, task, plan["runs"][0], planning, routes, evolving, polishing)
    return SOLVED[problem]


def timed(work, *arguments, **named):
    """What `work` returns, and its wall time in seconds."""
    begun = time.perf_counter()
    result = work(*arguments, **named)
    return result, time.perf_counter() - begun


def planned(job):
    """plan.json, and the least wall time of the whole command in seconds."""
    times = []
    with TemporaryDirectory() as folder:
        file = Path(folder) / "job.json"
        file.write_text(json.dumps(job))
        for i in range(TIMINGS):
            out = Path(folder) / f"out-{i}"
            _, seconds = timed(runwright, "plan", file, "-o", out, "--no-packet")
            times.append(seconds)
        return json.loads((out / "plan.json").read_text()), min(times)


class Table:
    """Shows what was found at the end of the session, whether or not it passed."""

    def pytest_terminal_summary(self, terminalreporter):
        write = terminalreporter.write_line
        if not SOLVED:
            return
        evolved = " and ".join(
            f"{DE_POPSIZE[bends]} x {DE_GENERATIONS[bends]} ({bends} bends)" for bends in DE_POPSIZE
        )
        write("")
        write("same money, same limits; scipy: differential_evolution, vectorized, with members a")
        write(f"variable x generations of {evolved},")
        write(f"then SLSQP from {CHOICES} choices of joints and their neighbors, all money in it;")
        write("plain: differential_evolution a member at a time, which is scipy's default, and")
        write("only for as many bends as the cheapest has;")
        write(f"planned: the best of {TIMINGS} whole commands")
        write(
            f"{'problem':<12}{'joints':>8}{'scipy 2':>10}{'scipy 3':>10}{'joints':>8}"
            f"{'planned':>10}{'to scipy':>10}{'scipy s':>9}{'plain s':>9}{'plan s':>8}"
            f"{'times':>7}{'plain':>7}"
        )
        for name, it in SOLVED.items():
            two, three = (f"{it.routes[k].money:.4f}" if it.routes[k] else "-" for k in (2, 3))
            plain, times = "", ""
            if it.plainly:
                plain, times = f"{it.searching_plainly:.2f}", f"{it.plain_speedup:.0f}"
            write(
                f"{name:<12}{dashed(it.best.joints):>8}{two:>10}{three:>10}"
                f"{dashed(it.joints):>8}{it.money:>10.4f}{it.money / it.best.money - 1:>+10.1e}"
                f"{it.searching:>9.2f}{plain:>9}{it.planning:>8.4f}"
                f"{it.speedup:>7.0f}{times:>7}"
            )


def dashed(joints):
    return "-".join(map(str, joints))


@pytest.fixture(scope="module", autouse=True)
def table(request):
    request.config.pluginmanager.register(Table())


@every_problem
def test_a_plan_is_what_it_says(problem):
    """Money, what is counted for it, and limits of plan.json, from its vertices alone."""
    it = solved(problem)
    measured = measure(it.task, it.run["vertices_mm"], it.joints)
    assert measured.broken(it.task.slack) == {}
    assert measured.counts == it.counts
    assert measured.money == pytest.approx(it.money, rel=1e-9)


@every_problem
def test_scipy_finds_no_cheaper_run(problem):
    it = solved(problem)
    best, money = it.best, it.money
    theirs = measure(it.task, best.vertices, best.joints).counts
    assert money <= best.money * (1 + 1e-6) + 1e-6, (
        f"planned: {money} with joints {it.joints}, {it.counts}\n"
        f"scipy: {best.money} with joints {best.joints}, {theirs}\n"
        f"job: {json.dumps(it.job)}\n"
        f"planned vertices_mm: {json.dumps(it.run['vertices_mm'])}\n"
        f"better vertices_mm: {json.dumps(best.vertices.tolist())}"
    )


@every_problem
def test_planning_is_faster_than_scipy_vectorized(problem):
    assert solved(problem).speedup >= SPEEDUP


@pytest.mark.parametrize("problem", PLAIN_PROBLEMS)
def test_planning_is_much_faster_than_scipy_as_one_writes_it_first(problem):
    it = solved(problem)
    search = Search(it.task, len(it.best.joints))
    _, plainly = timed(search.evolve, seed=1, plain=True)
    SOLVED[problem] = it = replace(it, plainly=plainly)
    assert it.plain_speedup >= PLAIN_SPEEDUP


@pytest.mark.parametrize("problem", OPEN_PROBLEMS)
def test_two_bends_will_do(problem):
    """What a further bend costs or saves is in the table."""
    assert solved(problem).routes[2] is not None


# --- the reference itself ---


def test_box_distance():
    """Against a minimizer, along random segments; and the length inside, by counting."""
    random = np.random.default_rng(1)
    boxes = np.sort(random.uniform(-1, 1, (200, 2, 3)), axis=1)
    points, along = random.uniform(-2, 2, (2, 200, 3))
    # Along one axis, and along a face.
    along[::5, :2] = 0
    points[::7, 1] = boxes[::7, 1, 1]
    along[::7, 1] = 0
    distances, insides = segment_box(points, along, boxes)
    steps = np.linspace(0, 1, 4001)
    for a, v, (low, high), distance, inside in zip(
        points, along, boxes, distances, insides, strict=True
    ):

        def away(t):
            point = a + np.multiply.outer(t, v)
            return np.linalg.norm(point - np.clip(point, low, high), axis=-1)

        found = minimize_scalar(away, bounds=(0, 1), method="bounded", options={"xatol": 1e-12})
        least = min(found.fun, away(0.0), away(1.0))
        assert distance == pytest.approx(least, abs=1e-7)
        counted = np.mean(away(steps) == 0) * np.linalg.norm(v)
        assert inside == pytest.approx(counted, abs=2e-3 * np.linalg.norm(v) + 1e-12)


@pytest.mark.parametrize(
    "first, second, distance",
    [
        (((0, 0, 0), (2, 0, 0)), ((1, -1, 3), (1, 1, 3)), 3),
        (((0, 0, 0), (2, 0, 0)), ((5, 4, 0), (5, 9, 0)), 5),
        (((0, 0, 0), (2, 0, 0)), ((1, 2, 0), (7, 2, 0)), 2),
    ],
)
def test_segment_distance(first, second, distance):
    assert segment_distance(*np.array([first, second], float)) == pytest.approx(distance)
