"""Where pieces stand, from nothing but their lengths, cuts and clocks.

Written from the definitions: a piece goes straight, and at a miter joint flow turns by
twice the cut angle, away from the long side. A clock is clockwise positive looking
downstream: by the right-hand rule about flow.
"""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Pose:
    """The start of a piece: center of the cut, axis downstream, and the start's long
    side (on a piece that starts square, the end's)."""

    point: np.ndarray
    axis: np.ndarray
    side: np.ndarray


def turned(side, axis, degrees):
    """`side` turned about `axis` by the right-hand rule; both unit and square."""
    angle = np.radians(degrees)
    return np.cos(angle) * side + np.sin(angle) * np.cross(axis, side)


def unit(vector):
    return np.asarray(vector, float) / np.linalg.norm(vector)


def across(vector, axis):
    """Unit vector along the part of `vector` that is square to `axis`."""
    return unit(vector - axis * np.dot(vector, axis))


def walk(pieces, start):
    """Poses of all pieces, and one for the end of the last, from the first one's."""
    poses = [start]
    point, axis, side = start.point, start.axis, start.side
    for piece in pieces:
        point = point + axis * piece["length_mm"]
        side = turned(side, axis, piece["clock_deg"])
        deflection = 2 * np.radians(piece["end_cut_deg"])
        sin, cos = np.sin(deflection), np.cos(deflection)
        # The long side's line folds over the joint: what pointed away from the bend
        # on this piece does so on the next.
        axis, side = cos * axis - sin * side, sin * axis + cos * side
        poses.append(Pose(point, axis, side))
    return poses


def first_pose(plan, run):
    """The run's first pose, at its first port.

    A round tube may be rolled at its port, so the pieces fix the run only up to one
    angle; it is taken from the first joint's plane.
    """
    port = plan["ports"][run["from"]]
    axis = unit(port["outward"])
    normal = np.array(run["joints"][1]["normal"])
    return Pose(np.array(port["center_mm"]), axis, -across(normal, axis))
