"""Runs the program on a job and reads what it wrote.

The binary is $RUNWRIGHT, or target/debug/runwright of this repository. A missing
binary fails every test: a check that did not run must never look like one that passed.
"""

import json
import os
import subprocess
from dataclasses import dataclass
from pathlib import Path

import pytest

REPOSITORY = Path(__file__).resolve().parents[2]
# Jobs; the schema and the built run that are shipped beside them are none.
EXAMPLES = [
    path
    for path in sorted((REPOSITORY / "examples").glob("*.json"))
    if not path.name.endswith((".schema.json", "-built.json"))
]


def runwright(*arguments):
    """The program's standard output; fails the test if it does not exit with 0."""
    binary = Path(os.environ.get("RUNWRIGHT", REPOSITORY / "target/debug/runwright"))
    if not binary.is_file():
        pytest.fail(f"no binary at {binary}: run cargo build, or set RUNWRIGHT")
    command = [str(binary.resolve()), *map(str, arguments)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60)
    assert done.returncode == 0, f"exit code {done.returncode}\n{done.stderr}"
    return done.stdout


@dataclass(frozen=True)
class Planned:
    """What `runwright plan` wrote."""

    folder: Path
    plan: dict

    @property
    def runs(self):
        return self.plan["runs"]

    @property
    def run(self):
        """The run of a job that has just one."""
        (run,) = self.runs
        return run


@pytest.fixture
def plan(tmp_path):
    """plan(job, *options) routes a job and returns what was written."""

    def run_plan(job, *options):
        folder = tmp_path / f"plan-{len(list(tmp_path.iterdir()))}"
        folder.mkdir()
        file, out = folder / "job.json", folder / "out"
        file.write_text(json.dumps(job))
        runwright("plan", file, "-o", out, *options)
        return Planned(out, json.loads((out / "plan.json").read_text()))

    return run_plan


@pytest.fixture(scope="session")
def job_schema():
    return json.loads(runwright("schema"))
