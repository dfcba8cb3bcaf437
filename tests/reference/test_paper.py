"""What goes to the bench on paper: DXF by ezdxf, pages and tiles by svgpathtools."""

import math
import os
import re
import subprocess
from pathlib import Path
from xml.etree import ElementTree

import ezdxf
import numpy as np
import pytest
from shapely import LineString, Point, Polygon
from svgpathtools import parse_path

from conftest import REPOSITORY
from jobs import JOBS, PAIR, STACK, TWISTED
from test_patterns import EDGE_MM, WRITTEN_MM, Pattern, paths, sample

every_job = pytest.mark.parametrize("job", JOBS.values(), ids=JOBS.keys())
DRAWINGS = ["patterns", "card", "cradle"]
LAYERS = {"cut", "fold", "slot", "seam", "marks", "clock", "tab", "text", "help"}
# Chords of a DXF's polylines keep to the curve.
CHORD_MM = 0.002
FOUR_INCH = {
    "units": "in",
    "tube": {"od": 4, "wall": 0.065},
    "ports": {
        "a": {"center": [0, 0, 0], "outward": [0, 0, 1]},
        "b": {"center": [14, 6, 16], "outward": [-1, 0, 0]},
    },
    "runs": [{"name": "four", "from": "a", "to": "b"}],
}


def drawing(planned, name):
    return ezdxf.readfile(planned.folder / f"{name}.dxf")


def lines(document, layer):
    """Polylines of a layer as arrays of points, closed ones with their first at the end."""
    found = []
    for entity in document.modelspace().query(f'LWPOLYLINE[layer=="{layer}"]'):
        points = [point[:2] for point in entity.get_points()]
        found.append(np.array(points + points[: 1 if entity.closed else 0]))
    return found


def the_bar(document):
    """Where the 100 mm bar begins."""
    (bar,) = [line for line in lines(document, "help") if abs(np.ptp(line[:, 0]) - 100) < 1e-6]
    return bar[0]


# --- DXF ---


@every_job
@pytest.mark.parametrize("name", DRAWINGS)
def test_dxf_is_sound_and_in_millimeters(plan, job, name):
    document = drawing(plan(job), name)
    audit = document.audit()
    assert (audit.errors, audit.fixes) == ([], [])
    assert document.dxfversion == "AC1015"
    assert document.header["$INSUNITS"] == 4
    assert {entity.dxf.layer for entity in document.modelspace()} <= LAYERS


def test_the_same_job_is_the_same_bytes(plan):
    first, second = plan(PAIR), plan(PAIR)
    for name in ["patterns", "card", "cradle", "clock-tape"]:
        for end in ["svg", "dxf"]:
            file = first.folder / f"{name}.{end}"
            if file.exists():
                assert file.read_bytes() == (second.folder / file.name).read_bytes()


def exact_edges(run, piece, turned):
    """Heights of both edges at an angle from the start's long side."""
    radius = run["tube"]["od_mm"] / 2
    start, end, clock = np.radians(
        [piece["start_cut_deg"], piece["end_cut_deg"], piece["clock_deg"]]
    )
    return (
        -radius * np.tan(start) * np.cos(turned),
        piece["cut_length_mm"] + radius * np.tan(end) * np.cos(turned - clock),
    )


def svg_outlines(planned, name):
    """Points along each outline of an SVG, y upward, from the 100 mm bar's beginning."""
    root = ElementTree.parse(planned.folder / f"{name}.svg").getroot()
    found = {}
    for element in root.iter("{http://www.w3.org/2000/svg}path"):
        if element.get("id"):
            found[element.get("id")] = parse_path(element.get("d"))
    bar = found["check-100-mm"].start
    return {
        key: (sample(path) - [bar.real, bar.imag]) * [1, -1]
        for key, path in found.items()
        if key.startswith("outline-")
    }


@every_job
@pytest.mark.parametrize("name, paper", [("patterns", 0.1), ("card", 0.0)])
def test_svg_and_dxf_and_the_exact_curve_are_one(plan, job, name, paper):
    """z(t) = r·tan κ·cos(t − τ), the edges of every pattern in both formats."""
    planned = plan(job)
    document = drawing(planned, name)
    origin = the_bar(document)
    dxf = [line - origin for line in lines(document, "cut")]
    svg = svg_outlines(planned, name)
    runs = {run["name"]: run for run in planned.runs}
    for key, points in svg.items():
        _, run_name, number = re.match(r"(outline)-(.*)-(\d+)$", key).groups()
        run = runs[run_name]
        piece = run["pieces"][int(number) - 1]
        left, width = points[:, 0].min(), np.ptp(points[:, 0])
        assert width == pytest.approx(np.pi * (run["tube"]["od_mm"] + paper), abs=2 * WRITTEN_MM)
        box = Polygon(points).buffer(0.05)
        mine = [line for line in dxf if box.contains(LineString(line))]
        assert len(mine) == (1 if name == "card" else 2)
        # Both formats against each other.
        drawn = LineString(np.vstack([points, points[:1]]))
        for line in mine:
            assert LineString(line).hausdorff_distance(drawn) >= 0
            assert max(drawn.distance(Point(point)) for point in line) <= CHORD_MM + WRITTEN_MM
        # And against the curve; the base is the start's center, read off the left side.
        turned = 2 * np.pi * (points[:, 0] - left) / width - np.pi
        start, end = exact_edges(run, piece, turned)
        first = points[np.argmin(points[:, 0] + points[:, 1] * 1e-9)]
        base = first[1] - exact_edges(run, piece, np.array([-np.pi]))[0][0]
        for line in mine:
            on = 2 * np.pi * (line[:, 0] - left) / width - np.pi
            low, high = exact_edges(run, piece, on)
            inner = (line[:, 0] > left + 1e-3) & (line[:, 0] < left + width - 1e-3)
            off = np.minimum(abs(line[:, 1] - base - low), abs(line[:, 1] - base - high))
            assert off[inner].max() <= EDGE_MM


# --- cradle and clock tape ---


@every_job
def test_cradle_folds_into_a_channel_for_the_tube(plan, job):
    """Base one diameter wide, walls half a diameter high."""
    planned = plan(job)
    document = drawing(planned, "cradle")
    sheets, folds = lines(document, "cut"), lines(document, "fold")
    assert (len(sheets), len(folds)) == (len(planned.runs), 2 * len(planned.runs))
    for run, sheet, pair in zip(planned.runs, sheets, zip(folds[::2], folds[1::2]), strict=True):
        od = run["tube"]["od_mm"]
        x = [sheet[:, 0].min(), pair[0][0, 0], pair[1][0, 0], sheet[:, 0].max()]
        np.testing.assert_allclose(np.diff(x), [od / 2, od, od / 2], atol=2 * WRITTEN_MM)


def test_cradle_slots_are_the_saws_plane(plan):
    """A plane through the axis at κ off square, cut with the folded channel: numbers for
    base and walls from the plane's equation y = x·tan κ alone."""
    planned = plan(TWISTED)
    document = drawing(planned, "cradle")
    radius = planned.run["tube"]["od_mm"] / 2
    (sheet,) = lines(document, "cut")
    middle = (sheet[:, 0].min() + sheet[:, 0].max()) / 2
    cuts = {0.0}
    for piece in planned.run["pieces"]:
        for key in ["start_cut_deg", "end_cut_deg"]:
            cuts.add(round(piece[key], 2))
    slots = lines(document, "slot")
    assert len(slots) == len({round(cut, 1) for cut in cuts})
    for slot in slots:
        center = (slot[0, 1] + slot[-1, 1]) / 2
        rise = (slot[-1, 1] - slot[0, 1]) / 2
        cut = math.degrees(math.atan2(rise, radius))
        assert min(abs(cut - expected) for expected in cuts) < 0.01
        # Folded: x stays on the base and is ±r on the walls.
        folded = np.clip(slot[:, 0] - middle, -radius, radius)
        np.testing.assert_allclose(
            slot[:, 1] - center, folded * np.tan(np.radians(cut)), atol=1e-3
        )


@pytest.mark.parametrize("paper", [0.1, 0.0, 0.3])
def test_clock_tape_is_as_long_as_the_tube_is_round(plan, paper):
    planned = plan(STACK, f"--paper={paper}mm")
    root = ElementTree.parse(planned.folder / "clock-tape.svg").getroot()
    (tape,) = [
        parse_path(element.get("d"))
        for element in root.iter("{http://www.w3.org/2000/svg}path")
        if (element.get("id") or "").startswith("clock-tape-")
    ]
    left, right, _, _ = tape.bbox()
    od = planned.run["tube"]["od_mm"]
    assert right - left == pytest.approx(np.pi * (od + paper), abs=2 * WRITTEN_MM)


# --- pages ---

PAGES = {"letter": (215.9, 279.4), "a4": (210.0, 297.0)}


@pytest.fixture
def pages(plan, tmp_path):
    """pages(job, size) writes the pages of every run and returns their files by kind."""

    def write(job, size):
        binary = Path(
            os.environ.get(
                "RUNWRIGHT_PAPER_PAGES", REPOSITORY / "target/debug/examples/paper_pages"
            )
        )
        if not binary.is_file():
            pytest.fail(f"no {binary}: run cargo build --example paper_pages")
        planned = plan(job)
        folder = tmp_path / f"pages-{size}"
        done = subprocess.run(
            [binary, planned.folder / "plan.json", folder, size], capture_output=True, text=True
        )
        assert done.returncode == 0, done.stderr

        def number(file):
            return int(file.stem.rsplit("-")[-1])

        kinds = {}
        for file in sorted(folder.iterdir(), key=number):
            kinds.setdefault(file.stem.rsplit("-", 1)[0], []).append(file)
        return planned, kinds

    return write


def named(file):
    """Paths of a page by id without its count, in order."""
    found = []
    for element in ElementTree.parse(file).getroot().iter("{http://www.w3.org/2000/svg}path"):
        if element.get("id"):
            found.append((element.get("id").split(".")[0], parse_path(element.get("d"))))
    return found


@every_job
@pytest.mark.parametrize("size", PAGES)
def test_pages_have_the_papers_size_and_bars(pages, job, size):
    _, kinds = pages(job, size)
    for file in [file for files in kinds.values() for file in files]:
        root = ElementTree.parse(file).getroot()
        _, _, width, height = map(float, root.get("viewBox").split())
        assert sorted([width, height]) == pytest.approx(sorted(PAGES[size]))
        assert (root.get("width"), root.get("height")) == (f"{width:g}mm", f"{height:g}mm")
        assert "DejaVu Sans" in root.get("font-family")
        bars = {key: path.length() for key, path in named(file) if key.startswith("check-")}
        assert bars == pytest.approx({"check-100-mm": 100.0, "check-4-in": 101.6})
        for _, path in named(file):
            left, right, top, bottom = path.bbox()
            assert 5 <= left <= right <= width - 5
            assert 5 <= top <= bottom <= height - 5


@pytest.mark.parametrize("size", PAGES)
def test_tiles_of_a_four_inch_tube_rejoin_exactly(pages, size):
    """Tiles laid diamond on diamond are the exact curve, and together all of it."""
    planned, kinds = pages(FOUR_INCH, size)
    run = planned.run
    items = [item for file in kinds["four-patterns"] for item in named(file)]
    width = np.pi * (run["tube"]["od_mm"] + 0.1)
    outlines = [key for key, _ in items if key == "outline-four-1"]
    assert len(outlines) == 2
    parts = [path for key, path in items if key == "outline-four-1"]
    # The first pattern's diamonds: the first two of each name, one a tile.
    diamonds = {}
    for key, path in items:
        if key.startswith("register-column-1-1"):
            diamonds.setdefault(key, []).append(path.start)
    assert len(diamonds) == 2
    offsets = [places[1] - places[0] for places in diamonds.values()]
    assert abs(offsets[0] - offsets[1]) <= 2 * WRITTEN_MM
    joined = np.vstack([sample(parts[0]), sample(parts[1]) - [offsets[0].real, offsets[0].imag]])
    left = joined[:, 0].min()
    assert np.ptp(joined[:, 0]) == pytest.approx(width, abs=4 * WRITTEN_MM)
    turned = 2 * np.pi * (joined[:, 0] - left) / width - np.pi
    start, end = exact_edges(run, run["pieces"][0], turned)
    first = joined[:, 1].max()
    base = first - exact_edges(run, run["pieces"][0], np.array([0.0]))[0][0]
    heights = base - joined[:, 1]
    inner = (joined[:, 0] > left + 1e-3) & (joined[:, 0] < left + width - 1e-3)
    off = np.minimum(abs(heights - start), abs(heights - end))
    assert off[inner].max() <= EDGE_MM
    # Nothing is missing: along either edge, no step is longer than a curve's own samples.
    for edge in [start, end]:
        at = np.sort(joined[inner & (abs(heights - edge) <= EDGE_MM), 0])
        assert np.diff(at).max() <= width / 36
        assert at[0] - left <= width / 36 and left + width - at[-1] <= width / 36
    # The page's own drawing has a map and names of both tiles.
    words = "".join(file.read_text() for file in kinds["four-patterns"])
    assert {"A1", "A2"} <= set(re.findall(r">\s*([A-Z]\d)\s*<", words))


def test_pattern_in_one_piece_is_the_patterns_own(pages):
    """What fits a page is drawn there as in patterns.svg."""
    planned, kinds = pages(STACK, "letter")
    whole = paths(planned)
    for file in kinds["stack-patterns"]:
        for key, path in named(file):
            if key.startswith("outline-") and key in whole:
                mine, other = Pattern.of(path), Pattern.of(whole[key])
                if abs(mine.width - other.width) < 1e-3 and mine.outline.shape == other.outline.shape:
                    shift = mine.outline[0] - other.outline[0]
                    np.testing.assert_allclose(mine.outline - shift, other.outline, atol=3e-4)
