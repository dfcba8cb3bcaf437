"""The same questions to a scan answered by this program and by libraries, side by side.

Usage: scan_libraries.py MESHES DISTANCES [QUESTIONS]

MESHES is the folder that fetch_meshes.py fills, DISTANCES the built examples/distances.
Every answerer is a process of its own, one after the other on one core, and its peak
memory is the system's figure for it. Libraries that are not installed, or do not start,
are named and left out. Needs numpy, trimesh with rtree; python-fcl and open3d if wanted.

What is compared is not quite the same: we and trimesh compute in doubles and open3d in
single precision; trimesh is asked all at once, fcl and we one by one. Distances that
differ from ours by more than 0.01 mm are counted.
"""

import gzip
import io
import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

RADIUS = 20.0
# Meters to millimeters.
SCALE = 1000.0
FILES = {"dragon": "dragon.ply.gz", "motorcycle": "motorBike.obj.gz"}
REACHES = {"near": (0, 2), "far": (10, 200)}
KINDS = ["point", "segment", "tube"]
LIBRARIES = ["trimesh", "fcl", "open3d"]
UP = np.array([0, 0, 1.0])
# Those that take up to 0.1 s an answer are asked fewer.
SHARE = {"trimesh": 0.05, "fcl": 0.2}


def triangles(file):
    """Corners in mm, (n, 3, 3), by numpy alone, so that no library is favored."""
    text = gzip.decompress(file.read_bytes()).decode()
    if ".ply" in file.name:
        head, body = text.split("end_header\n")
        count = int(head.split("element vertex ")[1].split()[0])
        lines = body.splitlines()
        points = np.loadtxt(lines[:count])[:, :3]
        faces = np.loadtxt(lines[count:], dtype=int)[:, 1:4]
    else:
        lines = text.splitlines()
        points = np.loadtxt([line[2:] for line in lines if line.startswith("v ")])
        faces = [line[2:].split() for line in lines if line.startswith("f ")]
        faces = np.array([[int(word.split("/")[0]) for word in face] for face in faces]) - 1
    return points[faces] * SCALE


def directions(random, count):
    v = random.normal(size=(count, 3))
    return v / np.linalg.norm(v, axis=1, keepdims=True)


def questions(corners, reach, count):
    """Starts at these distances from places on triangles chosen by number; ends 10 to
    80 mm from there."""
    random = np.random.default_rng(1)
    chosen = corners[random.integers(len(corners), size=count)]
    places = np.einsum("nc,ncx->nx", random.dirichlet([1, 1, 1], count), chosen)
    starts = places + directions(random, count) * random.uniform(*reach, (count, 1))
    return starts, starts + directions(random, count) * random.uniform(10, 80, (count, 1))


def words(kind, *numbers):
    return " ".join([kind, *(repr(float(n)) for n in np.concatenate(numbers, axis=None))])


def watched(command, text=""):
    """Output, errors and peak memory in MB of a process on one core."""
    temporary = tempfile.TemporaryFile
    with temporary("w+") as asked, temporary("w+") as said, temporary("w+") as errors:
        asked.write(text)
        asked.seek(0)
        process = subprocess.Popen(command, stdin=asked, stdout=said, stderr=errors,
                                   preexec_fn=lambda: os.sched_setaffinity(0, {CORE}))
        _, status, usage = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
        said.seek(0)
        errors.seek(0)
        out, err = said.read(), errors.read()
    if process.returncode != 0:
        last = (err.strip() or "it was stopped").splitlines()[-1]
        raise RuntimeError(last)
    return out, err, usage.ru_maxrss / 1024


CORE = min(os.sched_getaffinity(0))


def ours(distances, file, asked):
    """Figures, and the distances by kind and reach."""
    figures, found, peak = {}, {}, 0.0
    for (kind, reach), (starts, ends) in asked.items():
        rest = {"point": lambda a, b: [a], "segment": lambda a, b: [a, b],
                "tube": lambda a, b: [a, b, RADIUS]}[kind]
        text = "\n".join(words(kind, *rest(a, b)) for a, b in zip(starts, ends, strict=True))
        out, err, memory = watched([distances, str(file), "m", "--time"], text + "\n")
        report = json.loads(err)
        figures["load"], figures["index"] = report["load_s"], report["index_s"]
        figures[kind, reach] = report["per_second"][kind]
        found[kind, reach] = np.array([line.split()[0] for line in out.splitlines()], dtype=float)
        peak = max(peak, memory)
    return {**figures, "peak": peak}, found


# --- libraries, each in a process of its own ---


def load_trimesh(file):
    import trimesh

    kind = "ply" if ".ply" in file.name else "obj"
    content = io.BytesIO(gzip.decompress(file.read_bytes()))
    # As our reader: corners in one place are one; no textures or normals.
    mesh = trimesh.load(content, file_type=kind, force="mesh", process=False)
    mesh.apply_scale(SCALE)
    return mesh


def by_trimesh(mesh):
    import trimesh

    mesh.triangles_tree  # noqa: B018 - it is made when first asked for
    return {"point": lambda a, b: trimesh.proximity.closest_point(mesh, a)[1]}


def by_fcl(mesh):
    import fcl

    model = fcl.BVHModel()
    model.beginModel(len(mesh.vertices), len(mesh.faces))
    model.addSubModel(np.asarray(mesh.vertices), np.asarray(mesh.faces))
    model.endModel()
    body = fcl.CollisionObject(model)

    def placed(shape, start, end):
        axis = (end - start) / np.linalg.norm(end - start)
        x = np.cross(axis, np.eye(3)[np.argmin(np.abs(axis))])
        x /= np.linalg.norm(x)
        turn = np.column_stack([x, np.cross(axis, x), axis])
        return fcl.CollisionObject(shape, fcl.Transform(turn, (start + end) / 2))

    def all_of(shape):
        def ask(starts, ends):
            request = fcl.DistanceRequest()
            return np.array(
                [
                    max(fcl.distance(body, placed(shape(a, b), a, b), request,
                                     fcl.DistanceResult()), 0.0)
                    for a, b in zip(starts, ends, strict=True)
                ]
            )

        return ask

    # It has no points and segments, but balls and capsules of next to no radius.
    thin = 1e-3
    length = lambda a, b: np.linalg.norm(b - a)  # noqa: E731
    return {
        # Put in the middle of what it is given, which must have a direction.
        "point": lambda a, _: all_of(lambda a, b: fcl.Sphere(thin))(a - UP, a + UP),
        "segment": all_of(lambda a, b: fcl.Capsule(thin, length(a, b))),
        "tube": all_of(lambda a, b: fcl.Cylinder(RADIUS, length(a, b))),
    }


def by_open3d(mesh):
    import open3d

    scene = open3d.t.geometry.RaycastingScene(nthreads=1)
    tensor = open3d.core.Tensor
    scene.add_triangles(tensor(np.asarray(mesh.vertices, dtype=np.float32)),
                        tensor(np.asarray(mesh.faces, dtype=np.uint32)))

    def ask(starts, _):
        return scene.compute_distance(tensor(starts.astype(np.float32)), nthreads=1).numpy()

    # It indexes when first asked.
    ask(np.zeros((1, 3)), None)
    return {"point": ask}


def library(name, file, folder):
    """In a process of its own: figures as JSON, distances as files."""
    if name == "open3d":
        import open3d  # noqa: F401 - its start is not what is timed
    begun = time.perf_counter()
    mesh = load_trimesh(Path(file))
    loaded = time.perf_counter()
    answers = {"trimesh": by_trimesh, "fcl": by_fcl, "open3d": by_open3d}[name](mesh)
    figures = {"load": loaded - begun, "index": time.perf_counter() - loaded}
    for kind, ask in answers.items():
        for reach in REACHES:
            starts, ends = np.load(f"{folder}/{kind}-{reach}.npy")
            count = int(len(starts) * SHARE.get(name, 1))
            begun = time.perf_counter()
            found = ask(starts[:count], ends[:count])
            figures[f"{kind} {reach}"] = count / (time.perf_counter() - begun)
            np.save(f"{folder}/{name}-{kind}-{reach}.npy", found)
    print(json.dumps(figures))


def theirs(name, file, folder):
    out, _, peak = watched([sys.executable, __file__, "--library", name, str(file), folder])
    figures = json.loads(out.splitlines()[-1])
    return {tuple(key.split()) if " " in key else key: n for key, n in figures.items()} | {
        "peak": peak
    }


def row(name, figures, differing):
    cells = [f"{figures['load']:.2f}", f"{figures['index']:.2f}"]
    for kind in KINDS:
        for reach in REACHES:
            number = figures.get((kind, reach))
            cells.append("-" if number is None else f"{number:,.0f}")
    cells += [f"{figures['peak']:.0f}", differing]
    return f"{name:<10}" + "".join(f"{cell:>14}" for cell in cells)


def compare(mesh, file, distances, count):
    corners = triangles(file)
    asked = {(kind, reach): questions(corners, REACHES[reach], count)
             for kind in KINDS for reach in REACHES}
    print(f"\n{mesh}, {len(corners):,} triangles; tubes of radius {RADIUS:g} mm")
    titles = ["load s", "index s", *(f"{k} {r}/s" for k in KINDS for r in REACHES)]
    print(" " * 10 + "".join(f"{title:>14}" for title in [*titles, "peak MB", "differing"]))
    figures, found = ours(distances, file, asked)
    print(row("runwright", figures, ""), flush=True)
    with tempfile.TemporaryDirectory() as folder:
        for (kind, reach), ends in asked.items():
            np.save(f"{folder}/{kind}-{reach}.npy", np.array(ends))
        for name in LIBRARIES:
            try:
                figures = theirs(name, file, folder)
            except RuntimeError as error:
                print(f"{name:<10}NOT COMPARED: {error}", flush=True)
                continue
            differing, total = 0, 0
            for key, expected in found.items():
                path = Path(f"{folder}/{name}-{key[0]}-{key[1]}.npy")
                if path.is_file():
                    answer = np.load(path)
                    differing += (abs(answer - expected[: len(answer)]) > 0.01).sum()
                    total += len(answer)
            print(row(name, figures, f"{differing} of {total}"), flush=True)


def main():
    if sys.argv[1] == "--library":
        library(*sys.argv[2:])
        return
    meshes, distances = Path(sys.argv[1]), sys.argv[2]
    count = int(sys.argv[3]) if len(sys.argv) > 3 else 2000
    for mesh, file in FILES.items():
        compare(mesh, meshes / file, str(Path(distances).resolve()), count)


if __name__ == "__main__":
    main()
