"""STL files read by trimesh and manifold3d; joints built anew with manifold3d."""

from itertools import pairwise

import numpy as np
import pytest
import trimesh
from manifold3d import Error, Manifold, Mesh, OpType

from jobs import JOBS, METRIC, OFFSET, STACK, TIGHT, TWISTED, U_TURN
from kinematics import first_pose, unit, walk

# The default of --chord-tolerance.
CHORD_MM = 0.05
# STL holds single precision: 3e-5 mm at 500 mm from the origin.
SINGLE_MM = 5e-5
# What that does to a volume: roundings average out over hundreds of corners.
SINGLE_VOLUME = 2e-6

every_job = pytest.mark.parametrize("job", JOBS.values(), ids=JOBS.keys())
# Jobs whose pieces, as cut, are the run as welded: no sockets, no allowances; one run.
welded = {
    "stack": STACK,
    "offset": OFFSET,
    "u-turn": U_TURN,
    "tight": TIGHT,
    "metric": METRIC,
    "twisted": TWISTED,
}
every_welded_job = pytest.mark.parametrize("job", welded.values(), ids=welded.keys())


def wall_area(tube):
    """π(OD - t)t: the area of the annulus, π/4·(OD² - (OD - 2t)²)."""
    return np.pi * (tube["od_mm"] - tube["wall_mm"]) * tube["wall_mm"]


def bar_area(tube):
    return np.pi / 4 * tube["od_mm"] ** 2


def greatest_shortfall(tube, chord):
    """Part of the area that a polygon of n corners on a circle may lack.

    With x = 2π/n it lacks 1 - sin x/x <= x²/6, and its flats lie r(1 - cos(x/2)), about
    r·x²/8, inside the circle. So a chord tolerance c allows (4/3)c/r: quadratic in the
    facet's angle, linear in c. The terms left out are below a hundredth of it here.
    """
    return 4 / 3 * chord / (tube["od_mm"] / 2) * 1.01


def assert_closed(mesh):
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert mesh.volume > 0


def manifold(mesh):
    solid = Manifold(Mesh(mesh.vertices.astype(np.float32), mesh.faces.astype(np.uint32)))
    assert solid.status() == Error.NoError
    return solid


def assert_volume(mesh, exact, tube, chord=CHORD_MM):
    """A little less than exact, because facets lie inside the circle; never more."""
    shortfall = 1 - mesh.volume / exact
    assert -SINGLE_VOLUME <= shortfall <= greatest_shortfall(tube, chord) + SINGLE_VOLUME


# --- the files ---


@every_job
@pytest.mark.parametrize("solid", [False, True], ids=["hollow", "solid"])
def test_the_run_is_a_closed_tube(plan, job, solid):
    """One body a run, wall area times length; a tube has one hole through it, a rod
    none. The run is drawn as welded, face to face: without sockets or allowances."""
    planned = plan(job, *(["--solid"] if solid else []))
    mesh = trimesh.load_mesh(planned.folder / "run.stl")
    assert_closed(mesh)
    bodies = mesh.split()
    assert len(bodies) == len(planned.runs)
    for body, run in zip(in_order(bodies, planned.runs), planned.runs, strict=True):
        area = (bar_area if solid else wall_area)(run["tube"])
        assert_closed(body)
        assert_volume(body, area * run["length_mm"], run["tube"])
        assert manifold(body).genus() == (0 if solid else 1)
        low, high = bounds(run)
        # A facet's edge lies on the ellipse, its middle a little inside.
        assert body.bounds[0] == pytest.approx(low, abs=2 * CHORD_MM)
        assert body.bounds[1] == pytest.approx(high, abs=2 * CHORD_MM)
        assert (body.bounds[0] >= low - SINGLE_MM).all()
        assert (body.bounds[1] <= high + SINGLE_MM).all()


def in_order(bodies, runs):
    """The bodies in the order of their runs, told by where they are."""
    middle = [np.mean(bounds(run), axis=0) for run in runs]
    return [
        min(bodies, key=lambda body: np.linalg.norm(body.bounds.mean(axis=0) - at)) for at in middle
    ]


def bounds(run):
    """The exact box round a run.

    Every line along a piece ends on the ellipses of its two joints, so the box round
    all ellipses is the box round the run. An ellipse with half axes a, b (as vectors)
    reaches √(aₓ² + bₓ²) along x from its center.
    """
    radius = run["tube"]["od_mm"] / 2
    axes = [unit(np.subtract(b, a)) for a, b in pairwise(run["vertices_mm"])]
    centers = np.array(run["vertices_mm"])
    reaches = []
    for joint, before, after in zip(
        run["joints"], [axes[0], *axes], [*axes, axes[-1]], strict=True
    ):
        normal = np.array(joint["normal"])
        # aaᵀ + bbᵀ is I - nnᵀ for a unit circle. A miter stretches it by 1/cos κ along
        # the difference of the axes, which adds 1/cos²κ - 1 = tan²κ.
        spread = np.eye(3) - np.outer(normal, normal)
        if joint["kind"] == "miter":
            along = unit(after - before)
            spread += np.outer(along, along) * np.tan(np.radians(joint["cut_deg"])) ** 2
        reaches.append(radius * np.sqrt(np.diag(spread)))
    return (centers - reaches).min(axis=0), (centers + reaches).max(axis=0)


@every_job
def test_pieces_are_closed_tubes(plan, job):
    """One file a piece. The wall has π(OD - t)t·L whatever its cuts."""
    planned = plan(job, "--pieces")
    files = []
    for run in planned.runs:
        for piece in run["pieces"]:
            files.append(planned.folder / f"pieces/{run['name']}-{piece['number']:02}.stl")
            mesh = trimesh.load_mesh(files[-1])
            assert_closed(mesh)
            assert manifold(mesh).genus() == 1
            assert_volume(mesh, wall_area(run["tube"]) * piece["cut_length_mm"], run["tube"])
            # It stands on its start, axis up, so it is at least as high as its long side.
            assert mesh.extents[2] >= piece["long_mm"] - CHORD_MM
    assert sorted((planned.folder / "pieces").iterdir()) == sorted(files)


@pytest.mark.parametrize("solid", [False, True], ids=["hollow", "solid"])
@pytest.mark.parametrize("job", [METRIC, TWISTED, TIGHT], ids=["metric", "twisted", "tight"])
def test_volume_converges(plan, job, solid):
    """Toward area times length, the error falling in step with the chord tolerance:
    order 1 (order 2 in the facet's angle). Facets come in fours, hence the margin."""
    chords, errors = [0.8, 0.1, 0.0125, 0.0015625], []
    for chord in chords:
        options = [f"--chord-tolerance={chord}mm", *(["--solid"] if solid else [])]
        planned = plan(job, *options)
        tube, length = planned.run["tube"], planned.run["length_mm"]
        exact = (bar_area if solid else wall_area)(tube) * length
        mesh = trimesh.load_mesh(planned.folder / "run.stl")
        assert_volume(mesh, exact, tube, chord)
        errors.append(1 - mesh.volume / exact)
    order = np.polyfit(np.log(chords), np.log(errors), 1)[0]
    assert order == pytest.approx(1, abs=0.08)


@pytest.mark.parametrize(
    "facets, chord, volume",
    [(64, "0.046 mm", 46298.279), (256, "0.00287 mm", 46368.079), (1024, "0.00018 mm", 46372.444)],
)
def test_known_tube_volumes(plan, facets, chord, volume):
    """D 76.2, wall 1.65, L 120, any two cuts: 46372.7350 mm³ exactly; manifold3d 3.5.4
    gave these for polygons of so many corners (seen)."""
    planned = plan(METRIC, "--pieces", f"--chord-tolerance={chord}")
    for piece in planned.run["pieces"]:
        mesh = trimesh.load_mesh(planned.folder / f"pieces/metric-{piece['number']:02}.stl")
        assert len(mesh.vertices) == 4 * facets
        # The volume goes with the length; the wall of so fine a mesh is 1e-7 rough.
        assert mesh.volume / piece["cut_length_mm"] * 120 == pytest.approx(volume, rel=5e-6)


@every_welded_job
def test_the_centerline_is_open_in_a_tube_and_buried_in_a_rod(plan, job):
    """Nothing stands in the bore, such as a wall at a joint."""
    vertices = np.array(plan(job).run["vertices_mm"])
    middles = (vertices[1:] + vertices[:-1]) / 2
    points = np.concatenate([middles, vertices[1:-1]])
    hollow = trimesh.load_mesh(plan(job).folder / "run.stl")
    rod = trimesh.load_mesh(plan(job, "--solid").folder / "run.stl")
    assert not hollow.contains(points).any()
    assert rod.contains(points).all()


# --- the joints, built anew ---


def cylinder(tube, start, end, beyond):
    """A round bar on the axis from `start` to `end`, and `beyond` at both ends."""
    axis = unit(end - start)
    x = unit(np.cross(axis, np.eye(3)[np.argmin(np.abs(axis))]))
    bar = Manifold.cylinder(np.linalg.norm(end - start) + 2 * beyond, tube["od_mm"] / 2, -1, 256)
    return bar.transform(np.column_stack([x, np.cross(axis, x), axis, start - beyond * axis]))


def solid_pieces(run):
    """Each piece as a bar between its joints' planes, and nothing else of the plan."""
    joints = [(np.array(joint["at_mm"]), np.array(joint["normal"])) for joint in run["joints"]]
    for (at, normal), (to, end_normal) in pairwise(joints):
        # Long enough that the square ends of the bar lie outside both slanted planes.
        bar = cylinder(run["tube"], at, to, beyond=run["tube"]["od_mm"])
        yield bar.trim_by_plane(normal, normal @ at).trim_by_plane(-end_normal, -end_normal @ to)


def lacks(solid, exact):
    """Volume that flats leave out of a round body."""
    return exact - solid.volume()


def difference(a, b):
    """Volume that is in one and not in the other."""
    return (a - b).volume() + (b - a).volume()


@every_welded_job
def test_bars_cut_at_the_joints_make_the_run(plan, job):
    """Bars cut by the planes in plan.json mate without overlap, and together are the
    rod that the program drew."""
    planned = plan(job, "--solid")
    run = planned.run
    pieces = list(solid_pieces(run))
    exact = bar_area(run["tube"]) * run["length_mm"]
    for before, after in pairwise(pieces):
        assert before.volume() > 0
        assert (before ^ after).volume() <= 1e-9 * exact

    joined = Manifold.batch_boolean(pieces, OpType.Add)
    assert joined.volume() == pytest.approx(sum(piece.volume() for piece in pieces), rel=1e-9)

    # Both lie inside the round run, so they differ by no more than what both leave out.
    drawn = manifold(trimesh.load_mesh(planned.folder / "run.stl"))
    allowed = lacks(joined, exact) + lacks(drawn, exact)
    assert difference(joined, drawn) <= allowed + 2 * SINGLE_VOLUME * exact


@every_welded_job
def test_piece_files_stand_end_to_end(plan, job):
    """The piece files, set up by length, cuts and clocks alone, are the hollow run.

    A piece's frame: on its start, axis up, clock zero along x.
    """
    chord = "--chord-tolerance=0.005mm"
    planned = plan(job, "--pieces", chord)
    run = planned.run
    *starts, _ = walk(run["pieces"], first_pose(planned.plan, run))
    placed = []
    for piece, pose in zip(run["pieces"], starts, strict=True):
        mesh = trimesh.load_mesh(planned.folder / f"pieces/{run['name']}-{piece['number']:02}.stl")
        frame = np.column_stack([pose.side, np.cross(pose.axis, pose.side), pose.axis, pose.point])
        placed.append(manifold(mesh).transform(frame))
    joined = Manifold.batch_boolean(placed, OpType.Add)
    drawn = manifold(trimesh.load_mesh(planned.folder / "run.stl"))

    # As above, for the outside and the bore, each short by the same part of its area.
    tube, length = run["tube"], run["length_mm"]
    wall, bar = wall_area(tube) * length, bar_area(tube) * length
    round_bodies = bar + (bar - wall)
    allowed = (lacks(joined, wall) + lacks(drawn, wall)) / wall * round_bodies
    assert difference(joined, drawn) <= 1.01 * allowed
    assert allowed < 0.02 * wall
