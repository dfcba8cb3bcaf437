"""Distances from scans: points against trimesh, segments, tubes and runs against
python-fcl, and both against sampled bodies that bound the distance from both sides.

The meshes are public ones that fetch_meshes.py fetches into $RUNWRIGHT_MESHES, or
target/meshes. The program is examples/distances.rs: $RUNWRIGHT_DISTANCES, or
target/debug/examples/distances. What is missing fails every test that needs it.
"""

import gzip
import io
import json
import os
import subprocess
from itertools import pairwise
from pathlib import Path

import fcl
import numpy as np
import pytest
import trimesh

from conftest import REPOSITORY
from jobs import STACK

# What both sides round to, some hundred millimeters from the origin.
EXACT_MM = 1e-6
# fcl's own tolerance for tubes, and ours by GJK, in parts of the distance.
ITERATED = 1e-5
MM_PER_METER = 1000.0


def path_of(variable, usual, help):
    path = Path(os.environ.get(variable, REPOSITORY / usual))
    if not path.exists():
        pytest.fail(f"nothing at {path}: {help}, or set {variable}")
    return path.resolve()


def mesh_file(name):
    script = "run tests/reference/fetch_meshes.py target/meshes (it needs the network)"
    folder = path_of("RUNWRIGHT_MESHES", "target/meshes", script)
    if not (folder / name).is_file():
        pytest.fail(f"no {name} in {folder}: {script}")
    return folder / name


class Scan:
    """A mesh as we read it and as the libraries do, with questions for both."""

    def __init__(self, name, unit, scale, *, drop=()):
        self.file = mesh_file(name)
        self.options = [unit, *(word for pattern in drop for word in ("--drop", pattern))]
        self.mesh = load(self.file, scale, drop)
        self._model = None

    def ask(self, questions):
        """Distance, place on the mesh, place on the body: (n, 7)."""
        binary = path_of(
            "RUNWRIGHT_DISTANCES",
            "target/debug/examples/distances",
            "run cargo build --example distances",
        )
        command = [str(binary), str(self.file), *self.options]
        text = "\n".join(questions) + "\n"
        done = subprocess.run(command, input=text, capture_output=True, text=True, timeout=60)
        assert done.returncode == 0, done.stderr
        found = np.array([line.split() for line in done.stdout.splitlines()], dtype=float)
        assert found.shape == (len(questions), 7)
        return found

    @property
    def model(self):
        """The mesh as fcl takes it."""
        if self._model is None:
            self._model = fcl_model(self.mesh)
        return self._model


def load(file, scale, drop):
    """A mesh in mm, without the groups that are dropped."""
    content = file.read_bytes()
    if file.name.endswith(".gz"):
        content = gzip.decompress(content)
    if ".ply" in file.name:
        mesh = from_text_ply(content)
    else:
        content = without_groups(content, drop)
        mesh = trimesh.load_mesh(io.BytesIO(content), file_type="obj", process=False)
    mesh.apply_scale(scale)
    return mesh


def from_text_ply(content):
    """Points and triangles with all their digits, which trimesh rounds to single
    precision where the header says float."""
    head, body = content.decode().split("end_header\n")
    count = int(head.split("element vertex ")[1].split()[0])
    lines = body.splitlines()
    points = np.loadtxt(lines[:count])
    faces = np.loadtxt(lines[count:], dtype=int)
    assert (faces[:, 0] == 3).all()
    return trimesh.Trimesh(points[:, :3], faces[:, 1:4], process=False)


def without_groups(content, drop):
    """OBJ with points and faces only, and no faces of the dropped groups."""
    lines, kept = [], True
    for line in content.decode().splitlines():
        if line.startswith("g "):
            kept = line[2:].strip() not in drop
        elif line.startswith("v ") or (line.startswith("f ") and kept):
            lines.append(line)
    return "\n".join(lines).encode()


def fcl_model(mesh):
    model = fcl.BVHModel()
    model.beginModel(len(mesh.vertices), len(mesh.faces))
    model.addSubModel(np.asarray(mesh.vertices), np.asarray(mesh.faces))
    model.endModel()
    return fcl.CollisionObject(model)


@pytest.fixture(scope="module")
def motorcycle():
    return Scan("motorBike.obj.gz", "m", MM_PER_METER, drop=["exhaust%31"])


@pytest.fixture(scope="module")
def dragon():
    """Some 200 mm high."""
    return Scan("dragon_res3.ply.gz", "m", MM_PER_METER)


@pytest.fixture(scope="module")
def bunny():
    """Some 100 mm high, as a scan in inches would be read."""
    return Scan("bunny.obj", "0.5 in", 12.7)


@pytest.fixture(params=["bunny", "dragon", "motorcycle"])
def scan(request):
    return request.getfixturevalue(request.param)


# --- questions ---


def words(kind, *numbers):
    return " ".join([kind, *(repr(float(n)) for n in np.concatenate(numbers, axis=None))])


def directions(random, count):
    v = random.normal(size=(count, 3))
    return v / np.linalg.norm(v, axis=1, keepdims=True)


def places_on(mesh, random, count):
    """Places of triangles chosen evenly by number, so that small ones count too."""
    corners = mesh.triangles[random.integers(len(mesh.faces), size=count)]
    return np.einsum("nc,ncx->nx", random.dirichlet([1, 1, 1], count), corners)


def places_near(mesh, random, count):
    """A third on the surface, a third within 5 mm, a third within 200 mm."""
    reach = np.concatenate(
        [np.zeros(count // 3), random.uniform(0, 5, count // 3), random.uniform(5, 200, count // 3)]
    )
    return places_on(mesh, random, len(reach)) + directions(random, len(reach)) * reach[:, None]


def segments_near(mesh, random, count):
    starts = places_near(mesh, random, count)
    lengths = random.uniform(1, 120, (len(starts), 1))
    return starts, starts + directions(random, len(starts)) * lengths


# --- fcl ---


def fcl_distance(model, body):
    """Distance by fcl; 0 where they cross, which it tells apart by a negative number."""
    request = fcl.DistanceRequest(enable_nearest_points=False)
    result = fcl.DistanceResult()
    return max(fcl.distance(model, body, request, result), 0.0)


def fcl_body(shape, start, end):
    """A shape along z put along a segment."""
    axis = (end - start) / np.linalg.norm(end - start)
    x = np.cross(axis, np.eye(3)[np.argmin(np.abs(axis))])
    x /= np.linalg.norm(x)
    turn = np.column_stack([x, np.cross(axis, x), axis])
    return fcl.CollisionObject(shape, fcl.Transform(turn, (start + end) / 2))


def assert_places(found, mesh):
    """What is answered must be so: both places are as far apart as the distance, and the
    one on the mesh is on it."""
    apart = np.linalg.norm(found[:, 1:4] - found[:, 4:7], axis=1)
    assert apart == pytest.approx(found[:, 0], abs=EXACT_MM)
    _, off, _ = trimesh.proximity.closest_point(mesh, found[:, 1:4])
    assert off.max() <= EXACT_MM


# --- points ---


def test_every_corner_is_there(scan):
    """Every corner is on what we read; groups that are dropped leave theirs behind."""
    used = np.unique(scan.mesh.faces)[::7]
    asked = scan.ask([words("point", corner) for corner in scan.mesh.vertices[used]])
    assert asked[:, 0].max() <= EXACT_MM


def test_random_points(scan):
    points = places_near(scan.mesh, np.random.default_rng(1), 999)
    found = scan.ask([words("point", point) for point in points])
    _, distances, _ = trimesh.proximity.closest_point(scan.mesh, points)
    assert found[:, 0] == pytest.approx(distances, abs=EXACT_MM)
    assert found[:, 4:7] == pytest.approx(points, abs=0)
    assert_places(found, scan.mesh)


def test_chosen_points(scan):
    """Corners, middles of sides and triangles, and places far outside."""
    corners = scan.mesh.triangles[:: len(scan.mesh.faces) // 30]
    on = [corners[:, 0], (corners[:, 0] + corners[:, 1]) / 2, corners.mean(axis=1)]
    far = scan.mesh.bounds.mean(axis=0) + 5000 * np.concatenate([np.eye(3), -np.eye(3)])
    found = scan.ask([words("point", p) for p in np.concatenate([*on, far])])
    # Far away the last bits of a distance are 1e-12 of it.
    assert found[: -len(far), 0].max() <= EXACT_MM
    _, distances, _ = trimesh.proximity.closest_point(scan.mesh, far)
    assert found[-len(far) :, 0] == pytest.approx(distances, abs=EXACT_MM)


def test_known_places_by_the_motorcycle(motorcycle):
    """Computed once with trimesh 5.2.0 on the whole mesh without its exhaust."""
    found = motorcycle.ask(
        [
            "point 450 0 450",
            "point 600 0 300",
            "point 1000 -100 300",
            "segment 350 250 250 900 250 250",
        ]
    )
    assert found[:3, 0] == pytest.approx([62.7944, 7.46579, 18.01153], abs=6e-5)
    assert found[3, 0] == pytest.approx(66.94, abs=6e-3)


def test_without_the_drop_the_exhaust_is_there(motorcycle):
    whole = Scan("motorBike.obj.gz", "m", MM_PER_METER)
    questions = ["point 450 0 450", "point 600 0 300", "point 1000 -100 300"]
    nearer = whole.ask(questions)[:, 0] - motorcycle.ask(questions)[:, 0]
    assert (nearer <= EXACT_MM).all() and (nearer < -1).any()
    points = [[450, 0, 450], [600, 0, 300], [1000, -100, 300]]
    _, distances, _ = trimesh.proximity.closest_point(whole.mesh, points)
    assert whole.ask(questions)[:, 0] == pytest.approx(distances, abs=EXACT_MM)


# --- segments and tubes ---


def test_segments_are_thin_capsules(scan):
    """A capsule's distance is its segment's less its radius."""
    radius = 1.0
    starts, ends = segments_near(scan.mesh, np.random.default_rng(2), 300)
    found = scan.ask([words("segment", a, b) for a, b in zip(starts, ends, strict=True)])
    for distance, a, b in zip(found[:, 0], starts, ends, strict=True):
        capsule = fcl.Capsule(radius, np.linalg.norm(b - a))
        expected = fcl_distance(scan.model, fcl_body(capsule, a, b))
        assert max(distance - radius, 0) == pytest.approx(expected, abs=1e-4, rel=ITERATED)
    assert_places(found, scan.mesh)
    assert (found[:, 0] == 0).sum() > 10 and (found[:, 0] > 1).sum() > 30


def test_tubes_are_cylinders(scan):
    radius = 15.0
    starts, ends = segments_near(scan.mesh, np.random.default_rng(3), 300)
    found = scan.ask([words("tube", a, b, radius) for a, b in zip(starts, ends, strict=True)])
    for distance, a, b in zip(found[:, 0], starts, ends, strict=True):
        cylinder = fcl.Cylinder(radius, np.linalg.norm(b - a))
        expected = fcl_distance(scan.model, fcl_body(cylinder, a, b))
        assert distance == pytest.approx(expected, abs=1e-4, rel=ITERATED)
    assert (found[:, 0] > 1).sum() > 30


def test_sampled_segments_bound_the_distance(scan):
    """Of places d apart along a segment, the nearest one's distance is no less than the
    segment's, and no more than that and d/2."""
    starts, ends = segments_near(scan.mesh, np.random.default_rng(4), 15)
    found = scan.ask([words("segment", a, b) for a, b in zip(starts, ends, strict=True)])
    for distance, a, b in zip(found[:, 0], starts, ends, strict=True):
        samples = a + (b - a) * np.linspace(0, 1, 400)[:, None]
        _, sampled, _ = trimesh.proximity.closest_point(scan.mesh, samples)
        apart = np.linalg.norm(b - a) / 399
        assert sampled.min() - apart / 2 - EXACT_MM <= distance <= sampled.min() + EXACT_MM


def test_sampled_tubes_bound_the_distance(bunny):
    """As above with places all over the outside and the ends of tubes that the bunny
    does not reach into."""
    radius, across = 10.0, 2.0
    random = np.random.default_rng(5)
    starts, ends = segments_near(bunny.mesh, random, 60)
    found = bunny.ask([words("tube", a, b, radius) for a, b in zip(starts, ends, strict=True)])
    clear = np.flatnonzero(found[:, 0] > 1)[:5]
    assert len(clear) == 5
    for i in clear:
        a, b = starts[i], ends[i]
        samples = cylinder_places(a, b, radius, across)
        _, sampled, _ = trimesh.proximity.closest_point(bunny.mesh, samples)
        reach = across / np.sqrt(2)
        assert sampled.min() - reach <= found[i, 0] <= sampled.min() + EXACT_MM


def cylinder_places(a, b, radius, across):
    """Places on a cylinder with flat ends, no farther than `across` apart along it and
    round it, or along a ray and round it."""
    axis = (b - a) / np.linalg.norm(b - a)
    x = np.cross(axis, np.eye(3)[np.argmin(np.abs(axis))])
    x /= np.linalg.norm(x)
    round_steps = int(np.ceil(2 * np.pi * radius / across))
    turn = np.arange(round_steps) * 2 * np.pi / round_steps
    ring = np.outer(np.cos(turn), x) + np.outer(np.sin(turn), np.cross(axis, x))
    along = np.linspace(0, 1, int(np.ceil(np.linalg.norm(b - a) / across)) + 1)
    side = [a + (b - a) * part + radius * ring for part in along]
    rays = np.linspace(0, radius, int(np.ceil(radius / across)) + 1)
    return np.concatenate([*side, *(end + r * ring for end in (a, b) for r in rays)])


# --- runs ---


def test_a_runs_outside_is_as_near_as_its_mesh(plan, bunny, tmp_path):
    """The rod in run.stl lies within the chord tolerance inside the run, so it is farther
    from the bunny by no more than that, and the slant of a miter makes it up to double."""
    chord = 0.005
    planned = plan(STACK, "--solid", f"--chord-tolerance={chord}mm")
    rod = trimesh.load_mesh(planned.folder / "run.stl")
    job = tmp_path / "stack.json"
    job.write_text(json.dumps(STACK))
    vertices = np.array(planned.run["vertices_mm"])
    radius = planned.run["tube"]["od_mm"] / 2
    # The bunny is put beside the middle of every leg, by moving it: our side is asked for
    # a copy of its file.
    outcomes = []
    for number, (a, b) in enumerate(pairwise(vertices)):
        for shift in shifts(bunny.mesh, a, b, radius, seed=number):
            moved = bunny.mesh.copy()
            moved.apply_translation(shift)
            file = tmp_path / f"bunny-{len(outcomes)}.obj"
            file.write_text(moved.export(file_type="obj", digits=17))
            scan = Scan(file, "mm", 1.0)
            (distance,) = scan.ask([f"run {job}"])[:, 0]
            expected = fcl_distance(scan.model, fcl_model(rod))
            assert expected - 2 * chord - EXACT_MM <= distance <= expected + EXACT_MM
            outcomes.append(distance)
    assert max(outcomes) > 5


def shifts(mesh, a, b, radius, seed):
    """Ways to move a mesh beside the segment from a to b."""
    random = np.random.default_rng(seed)
    axis = (b - a) / np.linalg.norm(b - a)
    for _ in range(2):
        away = np.cross(axis, directions(random, 1)[0])
        away /= np.linalg.norm(away)
        reach = radius + np.linalg.norm(mesh.extents) / 2
        middle = a + (b - a) * random.uniform(0.1, 0.9)
        yield middle + away * (reach * random.uniform(0.8, 1.2)) - mesh.bounds.mean(axis=0)
