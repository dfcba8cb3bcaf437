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
# An outlet too near the bodywork for the clearance, whatever the run does.
TOO_NEAR = "belly"


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
@pytest.mark.parametrize("outlet", [name for name in TARGETS["outlets"] if name != TOO_NEAR])
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


def test_what_is_in_the_way_is_named_and_the_clearance_offered_works(tmp_path):
    binary = os.environ.get("RUNWRIGHT", REPOSITORY / "target/release/runwright")
    start = next(iter(TARGETS["ports"]))

    def planned(clearance):
        file = tmp_path / "job.json"
        file.write_text(json.dumps(job(start, TOO_NEAR, clearance)))
        command = [str(binary), "plan", str(file), "-o", str(tmp_path / "out"), "--force"]
        return subprocess.run(command, capture_output=True, text=True, timeout=300)

    # 26 mm from the outlet's middle to the bodywork: 27.05 are needed.
    refused = planned(CLEARANCE)
    assert refused.returncode == 1
    assert "'motorcycle'" in refused.stderr
    offered = re.search(r"a clearance of ([\d.]+) mm to 'motorcycle'", refused.stderr)
    assert offered, refused.stderr
    clearance = float(offered[1])
    assert 3.0 < clearance < CLEARANCE
    accepted = planned(clearance)
    assert accepted.returncode == 0, accepted.stderr
