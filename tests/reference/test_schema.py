"""The schemas say what the program does.

A schema must never refuse what the program takes, and should refuse what it refuses for a
value alone. Wrong values are put one by one into a job that says everything; the schema and
`runwright check` must both refuse them, at the same place.
"""

import copy
import json
import os
import re
import shutil
import subprocess

import pytest
from conftest import EXAMPLES, REPOSITORY, runwright
from jsonschema import Draft202012Validator

EVERYTHING = REPOSITORY / "tests/hostile/everything.json"
BUILT = [
    REPOSITORY / file
    for file in ("examples/stack-built.json", "examples/pump/built.json", "tests/hostile/built.json")
]
SHIPPED = [*EXAMPLES, REPOSITORY / "examples/pump/pump.json"]

A, B, C = ("ports", "a"), ("ports", "b"), ("ports", "c", "measured")
FIRST, SECOND = ("runs", 0), ("runs", 1)
SHOP, SCENE = ("shop",), ("scene",)
RATES = (*SHOP, "rates")
BODY = (*SCENE, "keep_out", 0)
SCAN = (*SCENE, "scans", 0)

ABSENT = object()
BOX = {"min": [0, 0, 0], "max": [1, 1, 1]}
BARE = {"center": [0, 0, 0], "outward": [0, 0, 1]}

WRONG = [
    (("name",), ""),
    (("runs",), []),
    (("ports",), {}),
    (("ports",), {"a": BARE}),
    (("tube", "od"), -63.5),
    (("tube", "od"), 0),
    (("tube", "wall"), 0),
    (("tube", "wall"), -1),
    (("tube", "material"), ""),
    (("tube", "density"), 0),
    (("tube", "density"), 26),
    (("tube", "expansion"), -1),
    (("up",), [0, 0, 0]),
    (("ahead",), [0, 0, 0]),
    (("measuring", "point"), -0.5),
    (("measuring", "level"), -0.1),
    (("measuring", "heading"), 46),
    ((*A, "socket"), -3),
    ((*A, "straight"), -1),
    ((*A, "outward"), [0, 0, 0]),
    ((*A, "outward"), {"azimuth": 10}),
    ((*A, "outward"), {"azimuth": 10, "level": 5}),
    ((*A, "outward"), {"azimuth": 10, "elevation": 10, "level": 5}),
    ((*A, "outward"), {"azimuth": 10, "elevation": 91}),
    ((*A, "outward"), {"level": 0, "heading": 361}),
    ((*A, "outward"), {}),
    ((*A, "outward"), ABSENT),
    ((*A, "center"), ABSENT),
    ((*A, "measured"), {"center": [0, 0, 0], "outward": [0, 0, 1]}),
    ((*A, "good_to", "center"), -1),
    ((*A, "good_to", "outward"), 60),
    ((*A, "flange", "radius"), 0),
    ((*A, "flange", "wrench"), -1),
    ((*B, "cone"), -1),
    ((*B, "cone"), 81),
    ((*B, "slide", 0, "along"), [0, 0, 0]),
    ((*B, "slide", 0, "back"), -1),
    ((*B, "slide"), [{"along": [1, 0, 0], "ahead": 1}] * 4),
    (C, {}),
    ((*C, "rim_diameter"), 0),
    ((*C, "level"), 91),
    ((*C, "toward"), [0, 0, 0]),
    (("ports", "c", "center"), [0, 0, 0]),
    (("ports", "d", "measured", "tape", 0), {"pin": "A"}),
    (("ports", "d", "measured", "tape", 0, "center"), 0),
    (("ports", "d", "measured", "tip"), -1),
    ((*FIRST, "name"), ""),
    ((*FIRST, "clr"), []),
    ((*FIRST, "clr"), 0),
    ((*FIRST, "clr"), [95, -1]),
    ((*FIRST, "clr"), {"min": 0, "max": 100}),
    ((*FIRST, "clr"), [90 + i for i in range(13)]),
    ((*FIRST, "between"), -1),
    ((*FIRST, "made_of"), "tin"),
    ((*FIRST, "max_bends"), 6),
    ((*FIRST, "max_bends"), -1),
    ((*FIRST, "max_swing"), 0),
    ((*FIRST, "through", 0, "radius"), 0),
    ((*FIRST, "through", 0, "direction"), [0, 0, 0]),
    ((*FIRST, "length"), -500),
    ((*FIRST, "wrap"), -1),
    ((*FIRST, "hot"), -300),
    ((*FIRST, "hot"), 3501),
    ((*FIRST, "hot"), ABSENT),
    ((*FIRST, "cold"), -274),
    ((*SECOND, "clr", "max"), -1),
    ((*SECOND, "clr", "max"), ABSENT),
    ((*SECOND, "tube", "od"), 0),
    ((*SECOND, "copy"), {}),
    ((*SECOND, "copy"), {"joints": []}),
    ((*SECOND, "copy"), {"joints": [[0, 0, 0]], "centerline": [[0, 0, 0]]}),
    ((*SHOP, "usual_cut"), 0),
    ((*SHOP, "max_cut"), 45),
    ((*SHOP, "saw_angles"), []),
    ((*SHOP, "saw_angles"), [0]),
    ((*SHOP, "saw_angles"), [45]),
    ((*SHOP, "bends", 0, "price"), -1),
    ((*SHOP, "bends", 0, "count"), -1),
    ((*SHOP, "bends", 0, "count"), 10001),
    ((*SHOP, "bends", 1, "clr"), 0),
    ((*SHOP, "bends", 1, "turn"), 180),
    ((*SHOP, "bends", 1, "turn"), ABSENT),
    ((*SHOP, "bends", 1, "leg"), -1),
    ((*SHOP, "mandrel_bend_price"), -1),
    ((*SHOP, "mandrel_bend_leg"), -1),
    ((*SHOP, "sticks", 0, "length"), 0),
    ((*SHOP, "sticks", 0, "price"), -96),
    ((*SHOP, "shelf", 0), -1),
    ((*SHOP, "shelf", 1, "length"), 0),
    ((*SHOP, "least_leftover"), -1),
    ((*SHOP, "min_short_side"), -1),
    ((*SHOP, "kerf"), -1),
    ((*SHOP, "gap"), -1),
    ((*SHOP, "shrinkage"), -1),
    ((*SHOP, "fraction"), 3),
    ((*SHOP, "fraction"), 256),
    ((*SHOP, "seams"), "straight"),
    ((*SHOP, "accuracy", "cut"), -0.1),
    ((*SHOP, "accuracy", "clock"), 11),
    ((*SHOP, "accuracy", "length"), -1),
    ((*RATES, "labor_per_hour"), -1),
    ((*RATES, "tube_per_foot"), 3),
    ((*RATES, "purge_cubic_feet_per_hour"), 3),
    ((*RATES, "weld_per_minute"), 0),
    ((*RATES, "currency"), ""),
    ((*RATES, "currency"), "nine long"),
    ((*RATES, "rod"), 0),
    ((*RATES, "filler_factor"), 101),
    ((*RATES, "arc_share"), 2),
    ((*RATES, "purge_changes"), -1),
    ((*RATES, "overhead_percent"), -1),
    ((*RATES, "markup_percent"), 10001),
    ((*SCENE, "clearance"), -1),
    ((*BODY, "box"), ABSENT),
    ((*BODY, "plane"), {"point": [0, 0, -500], "normal": [0, 0, 1]}),
    ((*BODY, "name"), ""),
    ((*BODY, "clearance"), -1),
    ((*SCENE, "keep_out", 1, "plane", "normal"), [0, 0, 0]),
    ((*SCENE, "keep_out", 2, "cylinder", "radius"), 0),
    ((*SCAN, "units"), "inch"),
    ((*SCAN, "file"), ""),
    ((*SCAN, "clearance"), -1),
    ((*SCAN, "zones", 0), {"name": "empty", "clearance": 8}),
    ((*SCAN, "zones", 0, "clearance"), -8),
]

# Odd, but taken by the program.
ODD = [
    (("$schema",), "job.schema.json"),
    (("name",), None),
    (("tube", "od"), "2 1/2 in"),
    ((*A, "measured"), None),
    ((*A, "socket"), 0),
    ((*A, "outward"), [0, 0, 1e-9]),
    ((*A, "outward"), {"azimuth": -360, "elevation": 90, "level": None}),
    ((*B, "cone"), 80),
    ((*FIRST, "hot"), 650),
    ((*FIRST, "max_bends"), 5.0),
    ((*SHOP, "fraction"), None),
    ((*SHOP, "fraction"), 64.0),
    ((*SHOP, "kerf"), 0),
    ((*SHOP, "bends", 0, "clr"), -1),  # a standard elbow has its own
    ((*SHOP, "accuracy", "clock"), 10),
    ((*RATES, "arc_share"), 0),
    ((*RATES, "arc_share"), 1),
    ((*RATES, "tube_per_foot"), None),
    ((*BODY, "plane"), None),
    ((*SCENE, "keep_out"), []),
]


def told(value):
    return "absent" if value is ABSENT else json.dumps(value)[:40]


def each(table):
    names = [f"{'.'.join(map(str, path))}={told(value)}" for path, value in table]
    return pytest.mark.parametrize("path, value", table, ids=names)


def changed(job, path, value):
    job = copy.deepcopy(job)
    inner = job
    for step in path[:-1]:
        inner = inner[step]
    if value is ABSENT:
        del inner[path[-1]]
    else:
        inner[path[-1]] = value
    return job


def as_text(path):
    """As the program writes a path; a list's places in brackets."""
    return "".join(f"[{s}]" if isinstance(s, int) else f".{s}" for s in path).lstrip(".")


def check(folder, job):
    """Exit code of `runwright check` and the places that it names as wrong."""
    binary = os.environ.get("RUNWRIGHT", REPOSITORY / "target/debug/runwright")
    file = folder / "job.json"
    file.write_text(json.dumps(job))
    shutil.copy(REPOSITORY / "tests/hostile/bay.obj", folder / "bay.obj")
    command = [str(binary), "check", str(file)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60)
    return done.returncode, done.stderr


@pytest.fixture(scope="module")
def job_validator():
    schema = json.loads(runwright("schema"))
    Draft202012Validator.check_schema(schema)
    return Draft202012Validator(schema)


@pytest.fixture(scope="module")
def everything():
    return json.loads(EVERYTHING.read_text())


@each(WRONG)
def test_schema_and_program_refuse_what_is_wrong(job_validator, everything, tmp_path, path, value):
    job = changed(everything, path, value)
    found = list(job_validator.iter_errors(job))
    assert found, "the schema takes it"
    # Both mean the same place, or what holds it.
    places = [tuple(error.absolute_path) for error in found]
    assert all(path[: len(place)] == place or place[: len(path)] == path for place in places)
    code, said = check(tmp_path, job)
    assert code == 1, said
    wrong = [line for line in said.splitlines() if re.search(r"error|job\.json", line)]
    parent = as_text(path[:-1])
    assert any(as_text(path) in line or parent and parent in line for line in wrong), said


@each(ODD)
def test_schema_and_program_take_what_is_odd(job_validator, everything, tmp_path, path, value):
    job = changed(everything, path, value)
    assert [error.message for error in job_validator.iter_errors(job)] == []
    code, said = check(tmp_path, job)
    assert code == 0, said


@pytest.mark.parametrize("file", [*SHIPPED, EVERYTHING], ids=lambda path: path.name)
def test_schema_and_program_take_the_shipped_jobs(job_validator, file):
    job = json.loads(file.read_text())
    assert [error.message for error in job_validator.iter_errors(job)] == []
    runwright("check", file)


def test_temperatures_without_unit_are_fahrenheit_beside_inches(job_validator, tmp_path):
    """-300 is no temperature in C, but one in F."""
    job = json.loads((REPOSITORY / "examples/stack.json").read_text())
    job["runs"][0]["hot"] = -300
    assert not list(job_validator.iter_errors(job))
    assert check(tmp_path, job)[0] == 0
    job["runs"][0]["hot"] = -460
    assert list(job_validator.iter_errors(job))
    assert check(tmp_path, job)[0] == 1


# --- what was built ---

END = {"measured": {"rim": [[30, 0, 0], [0, 30, 0], [-30, 0, 0]], "toward": [0, 0, 1]}}
TUBE = {"od": 60, "wall": 2}
WIDTHS = {"units": "mm", "tube": TUBE, "gap": {"widths": [100, 101, 102, 101]}}

WRONG_BUILT = [
    (("gap", "widths"), [100, 101, 102]),
    (("gap", "widths"), [100, 101, 102, 0]),
    (("gap", "widths"), [100] * 25),
    (("gap", "widths"), ABSENT),
    (("gap", "stations"), [{"clock": 0, "width": 100}]),
    (("gap", "good_to"), -1),
    (("gap", "cut"), 45),
    (("gap",), ABSENT),
    (("before",), END),
    (("units",), "inch"),
    (("tube", "od"), 0),
    (("run",), ""),
    (("piece",), 0),
    (("tacked",), [-1]),
    (("fit_up",), {"gap": -1}),
    (("fit_up",), {"high_low": 0}),
    (("fit_up",), {"shave": -1}),
]


@each(WRONG_BUILT)
def test_both_refuse_what_was_built_wrong(tmp_path, path, value):
    check_built = Draft202012Validator(json.loads(runwright("schema", "built")))
    assert list(check_built.iter_errors(WIDTHS)) == []
    built = changed(WIDTHS, path, value)
    assert list(check_built.iter_errors(built))
    file = tmp_path / "built.json"
    binary = os.environ.get("RUNWRIGHT", REPOSITORY / "target/debug/runwright")
    command = [str(binary), "close", str(file), "-o", str(tmp_path / "out")]
    for content, code in [(WIDTHS, 0), (built, 1)]:
        file.write_text(json.dumps(content))
        done = subprocess.run(command, capture_output=True, text=True, timeout=60)
        assert done.returncode == code, done.stderr


@pytest.mark.parametrize("file", BUILT, ids=lambda path: path.name)
def test_the_schema_takes_what_was_built(file):
    check_built = Draft202012Validator(json.loads(runwright("schema", "built")))
    assert list(check_built.iter_errors(json.loads(file.read_text()))) == []


# --- what the program writes ---


def objects(node):
    """Every schema of an object."""
    if isinstance(node, dict):
        if "properties" in node:
            yield node
        node = list(node.values())
    if isinstance(node, list):
        for inner in node:
            yield from objects(inner)


def validator(of):
    text = runwright("schema", of)
    assert text == runwright("schema", of)
    schema = json.loads(text)
    Draft202012Validator.check_schema(schema)
    return Draft202012Validator(schema)


@pytest.mark.parametrize("of", ["plan", "closure"])
def test_every_key_is_described_and_no_other_taken(of):
    schema = validator(of).schema
    found = list(objects(schema))
    assert len(found) > 10
    for node in found:
        closed = node.get("additionalProperties", node.get("unevaluatedProperties"))
        assert closed is False, node
        for key, value in node["properties"].items():
            assert value.get("description"), key


@pytest.mark.parametrize("file", SHIPPED, ids=lambda path: path.name)
def test_plan_json_is_as_its_schema_says(tmp_path, file):
    runwright("plan", file, "-o", tmp_path, "--no-packet")
    plan = json.loads((tmp_path / "plan.json").read_text())
    check_plan = validator("plan")
    found = [(list(e.absolute_path), e.message[:200]) for e in check_plan.iter_errors(plan)]
    assert found == []
    # It is no schema that takes all.
    plan["runs"][0]["pieces"][0]["color"] = "red"
    assert list(check_plan.iter_errors(plan))


def test_what_close_writes_is_as_its_schemas_say(tmp_path):
    runwright("plan", REPOSITORY / "examples/stack.json", "-o", tmp_path / "plan", "--no-packet")
    built = REPOSITORY / "examples/stack-built.json"
    out = tmp_path / "out"
    runwright("close", built, "--plan", tmp_path / "plan/plan.json", "-o", out)
    for name, of in [("closure.json", "closure"), ("plan.json", "plan")]:
        written = json.loads((out / name).read_text())
        found = [
            (list(e.absolute_path), e.message[:200]) for e in validator(of).iter_errors(written)
        ]
        assert found == []
    file = tmp_path / "widths.json"
    file.write_text(json.dumps(WIDTHS))
    runwright("close", file, "-o", tmp_path / "widths")
    written = json.loads((tmp_path / "widths/closure.json").read_text())
    assert [e.message[:200] for e in validator("closure").iter_errors(written)] == []
