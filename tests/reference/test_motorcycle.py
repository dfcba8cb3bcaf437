"""The main job on a real scan: from an open engine port of a motorcycle, its exhaust
dropped, to outlets behind the engine, clear of everything by 8 mm beyond the stretch
that each port exempts. What the program says is measured again by trimesh.
"""

import json
import os
import re
import subprocess

import numpy as np
import pytest
import scipy.ndimage
import scipy.spatial
import trimesh

from conftest import REPOSITORY
from test_scan import MM_PER_METER, load, mesh_file

TARGETS = json.loads((REPOSITORY / "tests/reference/targets.json").read_text())
SCAN, EXHAUST = "motorBike.obj.gz", "exhaust%31"
OD, CLEARANCE = 38.1, 8.0
EXEMPT = OD / 2 + CLEARANCE
# Flats of run.stl lie this far inside the true tube; samples are never nearer.
CHORD = 0.02
# Samples over the outside of a run: some to a square centimeter.
SAMPLES = 6_000
# An outlet within the fairing with hardly more room than the clearance: not every run to
# it is found.
CLOSED_IN = "belly"
# A clearance that no way into the fairing leaves, and the grid that proves it, mm.
TOO_MUCH = 60.0
GRID = 10.0


@pytest.fixture(scope="module")
def motorcycle():
    """The scan as trimesh has it, in mm, without the exhaust."""
    return load(mesh_file(SCAN), MM_PER_METER, (EXHAUST,))


def job(start, outlet, clearance=CLEARANCE):
    return {
        "units": "mm",
        "tube": {"od": OD, "wall": 1.65, "material": "304"},
        "ports": {start: TARGETS["ports"][start], outlet: TARGETS["outlets"][outlet]},
        "scene": {
            "scans": [
                {
                    "name": "motorcycle",
                    "file": str(mesh_file(SCAN)),
                    "units": "m",
                    "drop": [EXHAUST],
                    "clearance": clearance,
                }
            ]
        },
        "runs": [{"name": "dump", "from": start, "to": outlet}],
    }


def along(vertices, points):
    """How far along a polyline the place nearest to each point lies, and its length."""
    starts, ends = vertices[:-1], vertices[1:]
    lengths = np.linalg.norm(ends - starts, axis=1)
    before = np.concatenate([[0.0], np.cumsum(lengths)])
    best, where = np.full(len(points), np.inf), np.zeros(len(points))
    for start, end, length, so_far in zip(starts, ends, lengths, before):
        part = np.clip((points - start) @ (end - start) / length**2, 0.0, 1.0)
        off = np.linalg.norm(points - (start + part[:, None] * (end - start)), axis=1)
        nearer = off < best
        best[nearer], where[nearer] = off[nearer], (so_far + part * length)[nearer]
    return where, before[-1]


@pytest.mark.parametrize("start", TARGETS["ports"])
@pytest.mark.parametrize("outlet", [name for name in TARGETS["outlets"] if name != CLOSED_IN])
def test_a_run_clears_the_motorcycle(plan, motorcycle, start, outlet):
    planned = plan(job(start, outlet), "--solid", "--chord-tolerance", f"{CHORD} mm")
    run = planned.run
    (stated,) = run["obstacles"]
    assert stated["exempt_mm"] == pytest.approx(EXEMPT)
    assert stated["room_mm"] >= -1.1e-3

    skin = trimesh.load(planned.folder / "run.stl")
    points, _ = trimesh.sample.sample_surface_even(skin, SAMPLES, seed=1)
    where, total = along(np.array(run["vertices_mm"]), points)
    # Round the end of the exempt stretch the nearest place along is not the square cut.
    asked = (where > EXEMPT + 0.5) & (where < total - EXEMPT - 0.5)
    distances = trimesh.proximity.closest_point(motorcycle, points[asked])[1]
    assert distances.min() >= CLEARANCE - CHORD - 1e-3

    # And what is stated as the nearest pair of places is one.
    on_run, on_scan = (np.array(stated[key]) for key in ("on_run_mm", "on_obstacle_mm"))
    apart = np.linalg.norm(on_run - on_scan)
    assert apart == pytest.approx(CLEARANCE + stated["room_mm"], abs=1e-6)
    assert trimesh.proximity.closest_point(motorcycle, [on_run])[1][0] == pytest.approx(
        apart, abs=1e-4
    )
    assert distances.min() >= apart - CHORD - 1e-3


def planned(tmp_path, start, outlet, clearance):
    """What the program says to a job that it may refuse."""
    binary = os.environ.get("RUNWRIGHT", REPOSITORY / "target/debug/runwright")
    file = tmp_path / "job.json"
    file.write_text(json.dumps(job(start, outlet, clearance)))
    command = [str(binary), "plan", str(file), "-o", str(tmp_path / "out"), "--force"]
    return subprocess.run(command, capture_output=True, text=True, timeout=300)


def reachable(motorcycle, start, outlet, needed, reach):
    """Whether a ball gets from port to port that keeps its middle `needed` mm off: by a
    flood over a grid of our own, every doubt counted as room."""
    ports = [np.array(TARGETS[key][name]["center"]) for key, name in (("ports", start), ("outlets", outlet))]
    low, high = np.minimum(*ports) - reach, np.maximum(*ports) + reach
    axes = [np.arange(a, b + GRID, GRID) for a, b in zip(low, high)]
    points = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1)
    # Samples lie on the surface: no point is nearer to them than to it.
    samples = np.concatenate(
        [motorcycle.vertices, trimesh.sample.sample_surface(motorcycle, 400_000, seed=1)[0]]
    )
    distance = scipy.spatial.cKDTree(samples).query(points.reshape(-1, 3), workers=-1)[0]
    half_diagonal = GRID * np.sqrt(3.0) / 2.0
    free = distance.reshape(points.shape[:3]) > needed - half_diagonal
    for port in ports:
        # What a port exempts, however the tube bends there.
        free |= np.linalg.norm(points - port, axis=-1) <= needed
    labels, _ = scipy.ndimage.label(free)
    cells = [tuple(np.round((port - low) / GRID).astype(int)) for port in ports]
    return labels[cells[0]] == labels[cells[1]] != 0


def test_where_no_tube_gets_through_it_is_so_and_the_clearance_offered_works(tmp_path, motorcycle):
    start = next(iter(TARGETS["ports"]))
    refused = planned(tmp_path, start, CLOSED_IN, TOO_MUCH)
    assert refused.returncode == 1
    told = re.search(
        r"no tube of this size gets through within ([\d.]+) mm of the ports, however it is bent: "
        r"where there is most room, about \(([-\d., ]+)\) mm, 'motorcycle' leaves it at least "
        r"([\d.]+) mm too little",
        refused.stderr,
    )
    assert told, refused.stderr
    needed, reach = OD / 2 + TOO_MUCH, float(told[1])
    assert not reachable(motorcycle, start, CLOSED_IN, needed, reach)
    # The flood is no stone: it gets through where a run does.
    assert reachable(motorcycle, start, CLOSED_IN, OD / 2 + 5.0, reach)
    place = [float(number) for number in told[2].split(",")]
    room = trimesh.proximity.closest_point(motorcycle, [place])[1][0] - needed
    assert room <= 0.0 <= float(told[3]) <= -room

    offered = re.search(r"a clearance of ([\d.]+) mm to 'motorcycle'", refused.stderr)
    assert offered, refused.stderr
    accepted = planned(tmp_path, start, CLOSED_IN, float(offered[1]))
    assert accepted.returncode == 0, accepted.stderr
