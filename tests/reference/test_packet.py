"""packet.pdf measured with pymupdf: pages, check bars, patterns at true size, what it says."""

import hashlib
import json

import numpy as np
import pymupdf
import pytest

from conftest import EXAMPLES, runwright
from jobs import JOBS, STACK

every_job = pytest.mark.parametrize("job", JOBS.values(), ids=JOBS.keys())
every_example = pytest.mark.parametrize("job", EXAMPLES, ids=lambda path: path.stem)
pages = pytest.mark.parametrize(
    "page, size_mm", [("letter", (215.9, 279.4)), ("a4", (210.0, 297.0))]
)

MM = 25.4 / 72
# PDF numbers are single precision: 1e-5 mm across a page.
BAR_MM = 5e-4
# Any outline of a pattern, in any format.
EDGE_MM = 0.02
# The usual paper's thickness.
PAPER_MM = 0.1
# A whole edge of a pattern is this many cubics or more.
EDGE_CURVES = 30


def packet(folder):
    return pymupdf.open(folder / "packet.pdf")


def true_size_pages(document):
    """Pages with check bars: those that are printed to be cut out."""
    return [page for page in document if "print at 100 %" in page.get_text()]


def lines(page):
    """Lengths in mm of all drawings that are one straight line."""
    for drawing in page.get_drawings():
        if len(drawing["items"]) == 1 and drawing["items"][0][0] == "l":
            start, end = drawing["items"][0][1:3]
            yield abs(end - start) * MM


def edges(page):
    """Edges of patterns in mm, y upward: arrays of points from left to right."""
    for drawing in page.get_drawings():
        chain = []
        for item in [*drawing["items"], None]:
            if item is not None and item[0] == "c":
                bezier = np.array([[p.x, -p.y] for p in item[1:5]]) * MM
                if not chain or np.allclose(chain[-1][-1], bezier[0], atol=1e-3):
                    chain.append(bezier)
                    continue
            if len(chain) >= EDGE_CURVES:
                yield along(chain)
            chain = []


def along(chain):
    """Points along Bézier cubics, from left to right."""
    t = np.linspace(0, 1, 9)[:, None]
    points = np.vstack(
        [(1 - t) ** 3 * a + 3 * t * (1 - t) ** 2 * b + 3 * t**2 * (1 - t) * c + t**3 * d for a, b, c, d in chain]
    )
    return points if points[0, 0] < points[-1, 0] else points[::-1]


def fits(edge, amplitude, long_side):
    """How far an edge is off amplitude·cos(t − long side), t from −π to π across it."""
    t = 2 * np.pi * (edge[:, 0] - edge[0, 0]) / np.ptp(edge[:, 0]) - np.pi
    off = edge[:, 1] - amplitude * np.cos(t - long_side)
    return np.ptp(off)


@pages
@every_example
def test_pages_are_of_the_paper_and_bars_are_true(job, page, size_mm, tmp_path):
    runwright("plan", job, "-o", tmp_path, "--page", page)
    document = packet(tmp_path)
    for sheet in document:
        size = sorted((sheet.rect.width * MM, sheet.rect.height * MM))
        assert size == pytest.approx(sorted(size_mm), abs=0.01)
    sheets = true_size_pages(document)
    assert len(sheets) >= 3  # Patterns, clock tape, cradle.
    for sheet in sheets:
        found = list(lines(sheet))
        for bar in (100.0, 101.6):
            assert min(abs(length - bar) for length in found) < BAR_MM


@every_job
def test_patterns_are_the_exact_curves(job, plan):
    planned = plan(job, "--page", "letter")
    # Only whole patterns: those in tiles are checked tile by tile in test_paper.py.
    found = [edge for page in true_size_pages(packet(planned.folder)) for edge in edges(page)]
    checked = 0
    for run in planned.runs:
        radius = run["tube"]["od_mm"] / 2
        width = np.pi * (run["tube"]["od_mm"] + PAPER_MM)
        own = [edge for edge in found if abs(np.ptp(edge[:, 0]) - width) < EDGE_MM]
        for piece in run["pieces"]:
            if piece["kind"] != "straight" or not own:
                continue
            start = radius * np.tan(np.radians(piece["start_cut_deg"]))
            end = radius * np.tan(np.radians(piece["end_cut_deg"]))
            clock = np.radians(piece["clock_deg"])
            # Downstream is up: the start's long side reaches down, the end's up.
            for amplitude, shape in ((start, (-start, 0.0)), (end, (end, clock))):
                if amplitude > 0.5:
                    checked += min(fits(edge, *shape) for edge in own) < EDGE_MM
    assert checked > 0 or width > 250


@every_job
def test_every_piece_and_tape_is_told(job, plan):
    planned = plan(job)
    document = packet(planned.folder)
    text = "\n".join(page.get_text() for page in document)
    assert "not a pressure-piping design" in text
    assert "Saw sheet" in text and "Quote" in text and "Cautions" in text
    for run in planned.runs:
        assert f"{run['name']}: pieces" in text
        if len(run["pieces"]) > 1:
            assert f"{run['name']}: tack-up" in text
            tapes = sum(len(step["checks"]) for step in run["tack_up"]["steps"])
            assert text.count("± ") >= tapes


@pytest.mark.parametrize("job", ["stack", "warned", "legs", "duct"])
def test_no_text_leaves_the_page(plan, job):
    named = {"stack": STACK, "warned": warned(), "legs": LEGS, "duct": example("duct")}
    document = packet(plan(named[job]).folder)
    for page in document:
        for block in page.get_text("blocks"):
            assert page.rect.contains(pymupdf.Rect(block[:4])), block[4]


def example(name):
    return json.loads(next(path for path in EXAMPLES if path.stem == name).read_text())


def warned():
    """The example with a port that no run goes to: a warning."""
    job = json.loads(json.dumps(STACK))
    job["ports"]["spare"] = {"center": [20, 0, 0], "outward": [0, 0, 1]}
    return job


def words(page):
    return " ".join(page.get_text().split())


def test_a_warning_is_on_the_cover_and_takes_no_page(plan):
    """It stood alone on page 2, and again on page 3."""
    planned = plan(warned())
    (warning,) = planned.plan["warnings"]
    document = packet(planned.folder)
    assert "1 warning" in words(document[0]) and warning in words(document[0])
    second = words(document[1])
    assert "Read this first" in second and warning in second
    assert f"{planned.run['name']}: pieces" in second
    assert "Saw sheet" in words(document[2])


# A leg of 150 mm where the run has 110: sawn, and by no paper told.
LEGS = {
    "units": "mm",
    "tube": {"od": 60.3, "wall": 2, "material": "304"},
    "ports": {
        "a": {"center": [0, 0, 0], "outward": [0, 0, 1], "straight": 0},
        "b": {"center": [200, 0, 240], "outward": [-1, 0, 0], "straight": 0},
    },
    "shop": {"bends": [{"name": "mandrel 90", "clr": 90, "turn": 90, "leg": 150}]},
    "runs": [{"name": "legs", "from": "a", "to": "b", "made_of": "stock"}],
}


def test_what_is_sawn_off_a_stock_bend_is_told(plan):
    document = packet(plan(LEGS).folder)
    cut = "saw the leg at its end to 110.0 mm: take 40.0 mm off that end"
    assert "'mandrel 90' with the leg at its end sawn to 110.0 mm" in words(document[0])
    assert "90.00° turn; legs: 150.0 mm at its start, 110.0 mm at its end; 448.7" in words(document[1])
    assert "448.7 mm along its outside, 354.0 mm along its inside" in words(document[1])
    assert cut in words(document[2]) and "Saw sheet" in words(document[2])
    assert not any("'mandrel 90' as it is" in words(page) for page in document)


def test_tack_up_names_the_stock_bend(plan):
    document = packet(plan(example("duct")).folder)
    assert any("Piece 2, stock bend 'NPS 4 LR 90', on piece 1" in words(page) for page in document)


def test_no_page_of_a_pattern_is_blank(plan):
    """Straights of over a meter took dozens of pages without a curve on them."""
    planned = plan(example("duct"))
    patterns = [page for page in true_size_pages(packet(planned.folder)) if "wrap patterns" in words(page)]
    # Two tiles round the tube for each shaped end, alone on its page at worst.
    pieces = [piece for piece in planned.run["pieces"] if piece["kind"] == "straight"]
    cuts = [piece[key] > 0 for piece in pieces for key in ["start_cut_deg", "end_cut_deg"]]
    assert len(patterns) <= 2 * sum(cuts)
    for page in patterns:
        curved = [item for drawing in page.get_drawings() for item in drawing["items"] if item[0] == "c"]
        assert len(curved) > 5, words(page)


def test_the_piece_for_last_is_marked_on_every_page_of_it(plan):
    planned = plan(STACK)
    closure = planned.run["stack_up"]["closure"]["piece"]
    document = packet(planned.folder)
    said = [words(page) for page in document if "longer, see the saw sheet" in words(page)]
    assert any("stack: pieces" in page for page in said)
    own = [words(page) for page in document if f"stack: piece {closure}, " in words(page)]
    assert own and all(page in said for page in own)
    assert any("past this edge" in page for page in own)


def test_fonts_are_embedded(plan):
    document = packet(plan(STACK).folder)
    names = {font[3] for page in document for font in page.get_fonts()}
    assert names and all("DejaVu" in name for name in names), names
    for page in document:
        for font in page.get_fonts():
            assert document.extract_font(font[0])[3], f"{font[3]} is not embedded"


def test_bytes_are_the_same_in_another_process_and_folder(plan, tmp_path):
    first = plan(STACK)
    job = tmp_path / "elsewhere.json"
    job.write_text(json.dumps(STACK | {"name": first.plan["job"]}))
    runwright("plan", job, "-o", tmp_path / "elsewhere")
    digests = {
        hashlib.sha256((folder / "packet.pdf").read_bytes()).hexdigest()
        for folder in (first.folder, tmp_path / "elsewhere")
    }
    assert len(digests) == 1


def test_a_closed_run_has_a_packet_too(tmp_path):
    """From plan to simulated build to what `close` writes: that plan makes a packet."""
    stack = next(path for path in EXAMPLES if path.stem == "stack")
    runwright("plan", stack, "-o", tmp_path / "plan")
    built = stack.with_name("stack-built.json")
    runwright("close", built, "--plan", tmp_path / "plan/plan.json", "-o", tmp_path / "closed")
    runwright("packet", tmp_path / "closed/plan.json", "-o", tmp_path / "packet")
    assert len(packet(tmp_path / "packet")) > 5
