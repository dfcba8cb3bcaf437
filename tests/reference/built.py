"""Ends of tubes as they were built, and what is touched of them."""

from dataclasses import dataclass

import numpy as np
from scipy.spatial.transform import Rotation

from kinematics import unit


def sides(axis):
    """Two unit vectors square to `axis` and to each other."""
    first = unit(np.cross(axis, np.eye(3)[np.argmin(np.abs(axis))]))
    return first, np.cross(axis, first)


def turned_to(base, a, b):
    """The direction `base` leaning by the slopes a and b."""
    first, second = sides(base)
    return unit(base + a * first + b * second)


def leaning(direction, degrees, random):
    """`direction` turned so far to a random side."""
    first, second = sides(direction)
    turn = random.uniform(0, 2 * np.pi)
    about = np.cos(turn) * first + np.sin(turn) * second
    return Rotation.from_rotvec(np.radians(degrees) * about).apply(direction)


@dataclass(frozen=True)
class End:
    """Where the axis meets the rim; the axis into the gap; the rim's normal, likewise."""

    center: np.ndarray
    axis: np.ndarray
    normal: np.ndarray

    @classmethod
    def of(cls, found):
        """An end as closure.json has it."""
        return cls(*(np.array(found[key]) for key in ("center_mm", "axis", "normal")))

    @property
    def cut(self):
        """Degrees off square."""
        return np.degrees(np.arccos(min(1, self.axis @ self.normal)))

    def around(self, count, start=0.0):
        """Unit vectors square to the axis, evenly round it."""
        turns = start + 2 * np.pi * np.arange(count) / count
        return np.cos(turns)[:, None] * self.first + np.sin(turns)[:, None] * self.second

    @property
    def first(self):
        return sides(self.axis)[0]

    @property
    def second(self):
        return sides(self.axis)[1]

    def rim(self, radius, out):
        """Where the outside ends on the sides `out`: on the rim's plane."""
        heights = -radius * (out @ self.normal) / (self.axis @ self.normal)
        return self.center + radius * out + np.outer(heights, self.axis)

    def outside(self, radius, out, back):
        """On the outside, `back` behind the center."""
        return self.center + radius * out - np.outer(back, self.axis)

    def gone_on(self, gap):
        """As if the tube went on by `gap`, square to its rim."""
        far = gap / (self.axis @ self.normal)
        return End(self.center + far * self.axis, self.axis, self.normal)


def touched(end, radius, random, sigma=0.0):
    """"measured" of an end: 8 points round its rim, 3 each 40 and 100 mm behind it, every
    coordinate off by `sigma`."""
    start = random.uniform(0, 2 * np.pi)
    rim = end.rim(radius, end.around(8, start))
    back = np.repeat([40, 100], 3)
    outside = end.outside(radius, end.around(6, start)[[0, 2, 4, 1, 3, 5]], back)
    off = lambda points: (points + random.normal(0, 1, points.shape) * sigma).tolist()
    return {"rim": off(rim), "outside": off(outside)}


def random_gap(random, length=(120, 260), lean=(8, 17), error=(0, 2)):
    """Two ends, anywhere and any way round, between which a straight tube goes that leaves
    each at `lean` degrees; cut for true miters, but for `error` degrees."""
    from_x = Rotation.random(rng=random)
    along = from_x.apply([1, 0, 0])
    at = random.uniform(-500, 500, 3)
    ends = []
    for center, toward in ((at, along), (at + along * random.uniform(*length), -along)):
        axis = leaning(toward, random.uniform(*lean), random)
        normal = leaning(unit(axis + toward), random.uniform(*error), random)
        ends.append(End(center, axis, normal))
    return ends
