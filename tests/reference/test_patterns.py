"""patterns.svg at true size, measured with svgpathtools and shapely."""

import re
from dataclasses import dataclass
from xml.etree import ElementTree

import numpy as np
import pytest
from shapely import Polygon
from svgpathtools import svg2paths

from jobs import JOBS, STACK, STRAIGHT, TWISTED, elbow

every_job = pytest.mark.parametrize("job", JOBS.values(), ids=JOBS.keys())
papers = pytest.mark.parametrize(
    "options, paper", [([], 0.1), (["--paper=0mm"], 0.0)], ids=["paper", "no-paper"]
)

# Coordinates are written to 1e-4 mm.
WRITTEN_MM = 1e-4
# Pieces alike to 0.01 mm share a pattern; as much again for everything else.
EDGE_MM = 0.02


@dataclass(frozen=True)
class Pattern:
    """An unrolled piece on the page: x to the right, y DOWN, in mm."""

    outline: np.ndarray
    start: np.ndarray
    end: np.ndarray

    @classmethod
    def of(cls, path):
        # Along the start cut to the right, up, back along the end cut, and down.
        start = [segment for segment in path if segment.end.real > segment.start.real]
        end = [segment for segment in path if segment.end.real < segment.start.real]
        return cls(sample(path), sample(start), sample(end))

    @property
    def left(self):
        return self.outline[:, 0].min()

    @property
    def width(self):
        return np.ptp(self.outline[:, 0])

    def clock(self, edge):
        """Radians from the middle of the pattern at each point of an edge."""
        return 2 * np.pi * (edge[:, 0] - self.left) / self.width - np.pi


def sample(segments):
    """Points along segments. Each that is joined leaves out its last point, the next one's
    first: a rounding of 1e-14 mm between the two would be a self-intersection. Where the
    pen is lifted, at the side that a tab hangs on, the last point is there."""
    steps = np.linspace(0, 1, 12, endpoint=False)
    points = []
    for segment, after in zip(segments, [*segments[1:], None], strict=True):
        points += [segment.point(t) for t in steps]
        if after is not None and abs(after.start - segment.end) > 1e-6:
            points.append(segment.end)
    points = np.array(points)
    return np.column_stack([points.real, points.imag])


def paths(planned):
    found, attributes = svg2paths(str(planned.folder / "patterns.svg"))
    named = zip(found, attributes, strict=True)
    return {attribute["id"]: path for path, attribute in named if "id" in attribute}


def texts(planned):
    return [
        element.text.strip()
        for element in ElementTree.parse(planned.folder / "patterns.svg").iter()
        if element.text
    ]


def patterns(planned, run):
    """The pattern of every piece of `run`, by piece number.

    A pattern's title begins "stack: pieces 2-4, 7"; its outline has the first number.
    """
    outlines = paths(planned)
    found = {}
    for text in texts(planned):
        if title := re.match(rf"{run['name']}: pieces? (\d+(?:[-, ]+\d+)*)", text):
            numbers = [number for part in title[1].split(", ") for number in spread(part)]
            pattern = Pattern.of(outlines[f"outline-{run['name']}-{numbers[0]}"])
            found |= dict.fromkeys(numbers, pattern)
    return found


def shaped(run):
    """Straight pieces with a miter: what is square at both ends has no pattern."""
    return [
        piece
        for piece in run["pieces"]
        if piece["kind"] == "straight" and piece["start_cut_deg"] + piece["end_cut_deg"] > 0
    ]


def spread(part):
    """The numbers of "7" or "2-4"."""
    first, _, last = part.partition("-")
    return range(int(first), int(last or first) + 1)


# --- the page ---


@every_job
def test_one_user_unit_is_one_millimeter(plan, job):
    root = ElementTree.parse(plan(job).folder / "patterns.svg").getroot()
    view_box = root.get("viewBox").split()
    assert view_box[:2] == ["0", "0"]
    assert [root.get("width"), root.get("height")] == [f"{size}mm" for size in view_box[2:]]


def test_check_bars(plan):
    """4 in is 101.6 mm, by the definition of the inch."""
    bars = paths(plan(STACK))
    assert bars["check-100-mm"].length() == pytest.approx(100.000, abs=WRITTEN_MM)
    assert bars["check-4-in"].length() == pytest.approx(101.600, abs=WRITTEN_MM)


@every_job
def test_everything_drawn_is_on_the_page(plan, job):
    planned = plan(job)
    root = ElementTree.parse(planned.folder / "patterns.svg").getroot()
    _, _, width, height = map(float, root.get("viewBox").split())
    for path in paths(planned).values():
        left, right, top, bottom = path.bbox()
        assert 0 <= left < right <= width
        assert 0 <= top <= bottom <= height


# --- the outlines ---


@every_job
def test_every_piece_has_one_pattern(plan, job):
    planned = plan(job)
    count = 0
    for run in planned.runs:
        found = patterns(planned, run)
        assert sorted(found) == [piece["number"] for piece in shaped(run)]
        count += len({id(pattern) for pattern in found.values()})
    outlines = [name for name in paths(planned) if name.startswith("outline-")]
    assert len(outlines) == count


def test_square_pieces_have_no_pattern_and_are_told(plan):
    """A run that is one straight tube, and the straights between elbows."""
    planned = plan(STRAIGHT)
    assert not [name for name in paths(planned) if name.startswith("outline-")]
    (piece,) = planned.run["pieces"]
    length = piece["cut_length_mm"] / 25.4
    words = " ".join(texts(planned))
    assert f"no pattern for square pieces cut square at both ends: piece 1 {length:g} in" in words


@every_job
@papers
def test_unrolled_area(plan, job, options, paper):
    """π(OD + paper) wide, and π(OD + paper)·L in area whatever the cuts: a cosine over
    a whole turn adds nothing. Wrapped paper is as long as the middle of its thickness.

    OD 76.2, L 120, no paper: 28726.723224 mm² (computed).
    """
    planned = plan(job, *options)
    for run in planned.runs:
        width = np.pi * (run["tube"]["od_mm"] + paper)
        for piece in shaped(run):
            pattern = patterns(planned, run)[piece["number"]]
            assert pattern.width == pytest.approx(width, abs=2 * WRITTEN_MM)
            shape = Polygon(pattern.outline)
            assert shape.is_valid
            # A piece that shares another's pattern may differ from it by 0.01 mm.
            assert shape.area == pytest.approx(width * piece["cut_length_mm"], abs=0.0101 * width)


@papers
def test_unrolled_area_of_the_piece_that_is_drawn(plan, options, paper):
    """The same without the 0.01 mm: the first piece of each kind is drawn exactly."""
    planned = plan(TWISTED, *options)
    run = planned.run
    width = np.pi * (run["tube"]["od_mm"] + paper)
    outlines = {
        int(name.rsplit("-")[-1]): path
        for name, path in paths(planned).items()
        if "outline" in name
    }
    for number, path in outlines.items():
        exact = width * run["pieces"][number - 1]["cut_length_mm"]
        assert Polygon(Pattern.of(path).outline).area == pytest.approx(
            exact, abs=2 * WRITTEN_MM * width
        )


@every_job
@papers
def test_edges_are_cosines(plan, job, options, paper):
    """z(t) = -r tan κ₁ cos t at the start and L + r tan κ₂ cos(t - τ) at the end.

    r is the tube's own whatever the paper, since paper does not stretch along the
    axis. Printed side out with downstream up, the clock grows to the right: by the
    right-hand rule about up, what is in front moves to the right. The long side of the
    start (of the end, if the start is square) is in the middle of the pattern.
    """
    planned = plan(job, *options)
    for run in planned.runs:
        radius = run["tube"]["od_mm"] / 2
        found = patterns(planned, run)
        for piece in shaped(run):
            pattern = found[piece["number"]]
            start_cut, end_cut, turn = np.radians(
                [piece["start_cut_deg"], piece["end_cut_deg"], piece["clock_deg"]]
            )
            start = -radius * np.tan(start_cut) * np.cos(pattern.clock(pattern.start))
            end = piece["cut_length_mm"] + radius * np.tan(end_cut) * np.cos(
                pattern.clock(pattern.end) - turn
            )
            # Where z = 0 lies on the page is the page's business: measured at the left.
            zero = pattern.start[0, 1] + start[0]
            assert np.abs(zero - pattern.start[:, 1] - start).max() <= EDGE_MM
            assert np.abs(zero - pattern.end[:, 1] - end).max() <= EDGE_MM


def test_round_elbow_of_the_textbook(plan):
    """6 in diameter, 6 in throat radius, 4 pieces, 90°: B. Coey, Pattern Development:
    Sheet Metal Level 1, BCcampus 2021, CC BY 4.0, chapter 19 "Round Elbow" (seen).
    Miter 15°, stretch-out 6π in. Ordinates of the end gore each 30° computed; the book
    measures 2 7/16 in at the seam, to its nearest sixteenth."""
    inch = 25.4
    planned = plan(elbow(od=6 * inch, clr=9 * inch, cut=15), "--paper=0mm")
    assert len(planned.run["pieces"]) == 4
    gore = patterns(planned, planned.run)[1]
    assert gore.width / inch == pytest.approx(6 * np.pi, abs=1e-4)

    # From the long side in the middle to the short side at the right edge.
    at = gore.left + gore.width * np.linspace(0.5, 1, 7)
    end = gore.end[::-1]
    heights = gore.start[0, 1] - np.interp(at, end[:, 0], end[:, 1])
    expected = [3.21539, 3.10770, 2.81347, 2.41154, 2.00962, 1.71539, 1.60770]
    # The gore is sampled 432 times: chords are within 1e-5 in of the curve.
    assert heights / inch == pytest.approx(expected, abs=2e-5)
    assert heights[3] / inch == pytest.approx(2 + 7 / 16, abs=1 / 32)
