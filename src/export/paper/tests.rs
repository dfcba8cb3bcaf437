//! What holds for everything that goes on paper, whatever the tube and the run.

use super::layout::Layout;
use super::*;
use crate::export::flat::{Drawing, Layer, Path, Segment, Shape};
use crate::geometry::{Direction, Point, Polyline, Vector, perpendicular};
use crate::run::{Allowance, Port};
use crate::shop::SawSheet;
use crate::tube::{Cut, Edge, Outline, Scribed, Sleeve, Tube};
use crate::units::LengthUnit;
use proptest::prelude::*;

fn mm(mm: f64) -> Length {
    Length::from_mm(mm)
}

fn degrees(degrees: f64) -> Angle {
    Angle::from_degrees(degrees)
}

// --- one pattern ---

fn cut(angle: f64, clock: f64) -> Edge {
    Edge::Cut(Cut {
        angle: degrees(angle),
        clock: degrees(clock),
    })
}

fn mark(clock: f64, at: MarkAt, label: &str) -> Mark {
    Mark::new(degrees(clock), at, label)
}

fn inner(level: f64, edge: Edge, label: &str) -> Inner {
    Inner {
        edge,
        level: mm(level),
        faces: Faces::Downstream,
        label: label.to_owned(),
    }
}

/// Where a branch of three quarters the size meets a header, about.
fn saddle(depth: f64) -> Edge {
    let height = |clock: f64| mm(depth * (2.0 * degrees(clock).cos().powi(2) - 1.0));
    let clocks = (0..72).map(|i| f64::from(i) * 5.0);
    let points: Vec<_> = clocks
        .map(|clock| (degrees(clock), height(clock)))
        .collect();
    Edge::Scribed(Scribed::new(&points).unwrap())
}

fn wrap(id: &str, od: f64, length: f64, [start, end]: [Edge; 2]) -> Wrap {
    let tube = Tube::new(mm(od), mm(1.0), "304").unwrap();
    let sleeve = Sleeve::new(tube, mm(length), start, end).unwrap();
    Wrap {
        id: id.to_owned(),
        number: "3".to_owned(),
        title: format!("stack: {id}"),
        facts: format!("OD {od} mm, center {length} mm; wrap printed side out"),
        outline: Outline::new(sleeve, degrees(180.0), mm(0.1)),
        start_label: "from joint 3".to_owned(),
        end_label: "to joint 4".to_owned(),
        marks: Vec::new(),
        ticks_from: degrees(0.0),
        inner: Vec::new(),
        tab: true,
        ends: Vec::new(),
    }
}

fn samples() -> Vec<Wrap> {
    let marks = || {
        vec![
            mark(0.0, MarkAt::Start, "mark on piece 3"),
            mark(30.0, MarkAt::Through, "lay on the scribed line"),
            mark(181.0, MarkAt::Start, "near the left edge"),
            mark(179.0, MarkAt::End, "near the right edge"),
            mark(178.0, MarkAt::Through, "right"),
            mark(90.0, MarkAt::End, "mark on the flange"),
            Mark::seam(degrees(200.0), "tube's seam"),
        ]
    };
    let recut = || vec![inner(7.0, cut(3.0, 40.0), "cut here")];
    let mut all = vec![
        wrap("plane", 76.2, 60.0, [cut(20.0, 0.0), cut(30.0, 100.0)]),
        wrap("steep", 76.2, 90.0, [cut(45.0, 0.0), cut(45.0, 0.0)]),
        wrap("scribed", 60.3, 70.0, [cut(10.0, 0.0), saddle(12.0)]),
        wrap("recut", 76.2, 25.0, [Edge::SQUARE, Edge::SQUARE]),
        wrap("short", 76.2, 5.0, [Edge::SQUARE, Edge::SQUARE]),
        wrap("bare", 76.2, 5.0, [Edge::SQUARE, Edge::SQUARE]),
        wrap("small", 12.0, 40.0, [cut(22.5, 0.0), cut(45.0, 90.0)]),
        wrap("small-short", 12.0, 6.0, [Edge::SQUARE, cut(15.0, 90.0)]),
    ];
    for (i, wrap) in all.iter_mut().enumerate() {
        if !matches!(wrap.id.as_str(), "plane" | "bare") {
            wrap.marks = marks();
        }
        wrap.ticks_from = degrees(if i % 2 == 0 { 0.0 } else { 17.0 });
    }
    all[3].inner = recut();
    all[4].inner = vec![inner(2.0, cut(1.0, 0.0), "cut here")];
    all[7].inner = vec![inner(3.0, saddle(1.0), "cut here again")];
    all[7].inner[0].faces = Faces::Upstream;
    all
}

fn assert_texts_are_apart(drawing: &Drawing, what: &str) {
    let texts: Vec<_> = drawing.texts().collect();
    for (i, text) in texts.iter().enumerate() {
        for other in &texts[..i] {
            assert!(
                text.area().is_clear_of(&other.area(), 0.0),
                "{what}: {text:?} {other:?}"
            );
        }
    }
}

#[test]
fn texts_cover_nothing() {
    for wrap in samples() {
        let layout = Layout::of(&wrap, &[]);
        assert_texts_are_apart(&layout.drawing, &wrap.id);
        for item in layout.drawing.items() {
            let Shape::Line(ends, _) = &item.shape else {
                continue;
            };
            for text in layout.drawing.texts() {
                let line = Area::around(*ends);
                assert!(
                    text.area().is_clear_of(&line, 0.0),
                    "{}: {text:?} {ends:?}",
                    wrap.id
                );
            }
        }
    }
}

fn roll_of(wraps: &[Wrap]) -> String {
    let mut roll = Roll::new();
    roll.add_wraps(wraps);
    let (drawing, page) = roll.page();
    assert!(page.holds(&drawing.area()));
    drawing.svg(&page, crate::export::flat::Ink::Paper)
}

#[test]
fn every_name_is_on_the_page() {
    assert!(roll_of(&samples()).contains("check-100-mm"));
    for wrap in samples() {
        let one = roll_of(std::slice::from_ref(&wrap));
        let marks = wrap.marks.iter().map(|mark| &mark.label);
        let lines = wrap.inner.iter().map(|line| &line.label);
        let names = marks.chain(lines);
        for name in names.chain([&wrap.start_label, &wrap.end_label]) {
            assert!(one.contains(name.as_str()), "{}: {name}", wrap.id);
        }
        assert!(one.contains(&format!("id=\"{}\"", wrap.id)));
        for i in 1..=wrap.inner.len() {
            assert!(one.contains(&format!("id=\"{}-inner-{i}\"", wrap.id)));
        }
    }
}

#[test]
fn no_number_makes_it_panic() {
    let mut wrap = wrap("odd", 76.2, 60.0, [Edge::SQUARE, saddle(5.0)]);
    for clock in [f64::NAN, f64::INFINITY, 1e300] {
        wrap.marks.push(mark(clock, MarkAt::Through, "nowhere"));
        let long = "long ".repeat(200);
        wrap.marks.push(mark(clock, MarkAt::End, &long));
    }
    wrap.inner.push(inner(f64::NAN, Edge::SQUARE, "nowhere"));
    wrap.inner.push(inner(1e6, Edge::SQUARE, "far"));
    let layout = Layout::of(&wrap, &[]);
    assert!(!layout.drawing.items().is_empty());
    assert!(layout.drawing.dxf().is_ok());
    assert!(!wrap_blocks(&wrap, PaperSize::A4).is_empty());
}

// --- pages of whole runs ---

/// A run through legs and turns: each leg's length beyond what its cuts take, and how far
/// and to which side the centerline turns after it.
fn run_of(od: f64, legs: &[(f64, f64, f64)]) -> Run {
    let radius = od / 2.0;
    let mut axis = Direction::new_normalize(Vector::new(0.3, 0.2, 1.0));
    let mut points = vec![Point::origin()];
    let mut taken = 0.0;
    for (i, &(extra, turn, clock)) in legs.iter().enumerate() {
        let turn = if i + 1 == legs.len() { 0.0 } else { turn };
        let next = radius * degrees(turn / 2.0).tan();
        let last = points[points.len() - 1];
        points.push(last + axis.into_inner() * (taken + next + extra));
        taken = next;
        let side = perpendicular(&axis);
        let (sin, cos) = degrees(clock).sin_cos();
        let side = side.into_inner() * cos + axis.cross(&side) * sin;
        let (out, along) = degrees(turn).sin_cos();
        axis = Direction::new_normalize(axis.into_inner() * along + side * out);
    }
    let polyline = Polyline::new(points).unwrap();
    let [start, end] = polyline
        .ends()
        .map(|(center, outward)| Port::new("port", center, outward));
    let tube = Tube::new(mm(od), mm(od / 40.0), "304").unwrap();
    Run::new(&tube, &start, &end, polyline, Allowance::default()).unwrap()
}

fn on_paper<'a>(run: &'a Run, seams: &'a [Option<Angle>]) -> RunOnPaper<'a> {
    RunOnPaper {
        run,
        name: "stack",
        stem: "stack",
        style: Style::new(LengthUnit::In),
        paper: mm(0.1),
        cuts: &[],
        longer: None,
        seams,
    }
}

const PAGES: [PaperSize; 2] = [PaperSize::Letter, PaperSize::A4];

fn assert_sheets_are_whole(sheets: &[Sheet]) {
    for sheet in sheets {
        // 5 mm of white at least: what a usual printer leaves.
        let page = sheet.area().grown(-5.0);
        for item in sheet.drawing.items() {
            assert!(page.holds(&item.shape.area()), "{item:?}");
        }
        assert_texts_are_apart(&sheet.drawing, "sheet");
        let bars = ["check-100-mm", "check-4-in"].map(|id| width_of(&sheet.drawing, id));
        assert!((bars[0] - 100.0).abs() < 1e-9 && (bars[1] - 101.6).abs() < 1e-9);
    }
}

fn path<'a>(drawing: &'a Drawing, id: &str) -> Option<&'a Path> {
    drawing.items().iter().find_map(|item| match &item.shape {
        Shape::Path(path, _) if item.id.as_deref() == Some(id) => Some(path),
        _ => None,
    })
}

fn width_of(drawing: &Drawing, id: &str) -> f64 {
    path(drawing, id).map_or(f64::NAN, |path| path.area().width())
}

fn any_run() -> impl Strategy<Value = Run> {
    // Short pies and long straights, tubes from 10 to 400 mm.
    let extra = prop_oneof![3.0..20.0_f64, 20.0..120.0_f64, 300.0..1500.0_f64];
    let leg = (extra, 6.0..60.0_f64, prop_oneof![Just(0.0), 0.0..360.0_f64]);
    let od = prop_oneof![10.0..30.0_f64, 30.0..130.0_f64, 130.0..400.0_f64];
    (od, prop::collection::vec(leg, 1..5)).prop_map(|(od, legs)| run_of(od, &legs))
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn nothing_leaves_a_page_and_no_text_covers_another(run in any_run(), seam in 0.0..360.0_f64) {
        let seams = vec![Some(degrees(seam)); run.pieces().len()];
        let sheet = SawSheet::new(0, &run, Length::ZERO);
        let paper = RunOnPaper {
            cuts: &sheet.cuts,
            longer: Some((1 + run.pieces().len() / 2, mm(23.8))),
            ..on_paper(&run, &seams)
        };
        for page in PAGES {
            for (sheets, always) in [
                (pattern_sheets(&paper, page), false),
                (clock_tape_sheets(&paper, page), true),
                (cradle_sheets(&paper, Length::ZERO, page), true),
            ] {
                prop_assert!(!(always && sheets.is_empty()));
                assert_sheets_are_whole(&sheets);
            }
            let some = run.pieces().len() > 1;
            prop_assert_eq!(!pattern_sheets(&paper, page).is_empty(), some);
        }
        prop_assert_eq!(pattern_sheets(&paper, PAGES[0]), pattern_sheets(&paper, PAGES[0]));
    }

    #[test]
    fn a_clock_tape_is_as_long_as_the_tube_is_round(od in 10.0..400.0_f64) {
        let run = run_of(od, &[(200.0, 0.0, 0.0)]);
        let drawing = tape::tape(&on_paper(&run, &[]), &[]);
        let width = width_of(&drawing, "clock-tape-stack");
        prop_assert!((width - std::f64::consts::PI * (od + 0.1)).abs() < 1e-9);
    }

    #[test]
    fn a_cradle_is_one_diameter_wide_and_half_a_diameter_high(
        od in 10.0..400.0_f64, thickness in prop_oneof![Just(0.0), 0.0..3.0_f64],
    ) {
        let run = run_of(od, &[(200.0, 30.0, 0.0), (200.0, 0.0, 0.0)]);
        let drawing = cradle::cradle(&on_paper(&run, &[]), mm(thickness), &[]);
        let fold = |id: &str| path(&drawing, id).unwrap().area().left;
        let base = fold("fold-stack-2") - fold("fold-stack-1");
        // What a sharp bend adds with its neutral line at 0.44 of the thickness.
        let bend = std::f64::consts::FRAC_PI_2 * 0.44 * thickness;
        prop_assert!((base - od - bend).abs() < 1e-9);
        let sheet = width_of(&drawing, "cradle-stack");
        prop_assert!((sheet - 2.0 * od - 2.0 * bend).abs() < 1e-9);
        // Slots: square, and 15° that rise r·tan 15° from the middle to either wall.
        let rise = |id: &str| path(&drawing, id).unwrap().area().height();
        prop_assert!(rise("slot-stack-1").abs() < 1e-9);
        prop_assert!((rise("slot-stack-2") - od * degrees(15.0).tan()).abs() < 1e-9);
    }
}

#[test]
fn short_patterns_share_a_page_in_order() {
    let legs = [
        (12.0, 30.0, 0.0),
        (13.0, 30.0, 90.0),
        (14.0, 30.0, 0.0),
        (15.0, 0.0, 0.0),
    ];
    let run = run_of(25.0, &legs);
    let sheets = pattern_sheets(&on_paper(&run, &[]), PaperSize::Letter);
    assert_eq!(sheets.len(), 1);
    let titles = sheets[0].drawing.texts().filter_map(|text| {
        let number = text.content.strip_prefix("stack: piece ")?;
        number.split(',').next()?.parse::<usize>().ok()
    });
    assert_eq!(titles.collect::<Vec<_>>(), [1, 2, 3, 4]);
}

/// Points along a path, and how far a point is from chords between them: curves in 40,
/// which is 0.001 mm at the most here.
fn dots(path: &Path) -> Vec<Vec<[f64; 2]>> {
    let along = |stroke: Vec<Segment>| {
        let mut dots: Vec<[f64; 2]> = stroke.first().map(Segment::start).into_iter().collect();
        for segment in stroke {
            let Segment::Cubic(curve) = segment else {
                let Segment::Line([_, to]) = segment else {
                    continue;
                };
                dots.push(to);
                continue;
            };
            dots.extend((1..=40).map(|i| {
                let t = f64::from(i) / 40.0;
                let u = 1.0 - t;
                let weights = [u * u * u, 3.0 * u * u * t, 3.0 * u * t * t, t * t * t];
                [0, 1].map(|i| (0..4).map(|k| weights[k] * curve[k][i]).sum())
            }));
        }
        dots
    };
    path.strokes().into_iter().map(along).collect()
}

fn distance(point: [f64; 2], chords: &[Vec<[f64; 2]>]) -> f64 {
    let pairs = chords.iter().flat_map(|dots| dots.windows(2));
    let off = pairs.map(|pair| {
        let along = [0, 1].map(|i| pair[1][i] - pair[0][i]);
        let from = [0, 1].map(|i| point[i] - pair[0][i]);
        let square = along[0] * along[0] + along[1] * along[1];
        let part = (along[0] * from[0] + along[1] * from[1]) / square.max(f64::MIN_POSITIVE);
        let part = part.clamp(0.0, 1.0);
        (from[0] - along[0] * part).hypot(from[1] - along[1] * part)
    });
    off.fold(f64::INFINITY, f64::min)
}

#[test]
fn a_four_inch_tube_on_letter_is_tiled_and_rejoins_exactly() {
    let run = run_of(101.6, &[(60.0, 22.5, 0.0), (300.0, 0.0, 0.0)]);
    let paper = on_paper(&run, &[]);
    // Whole, and the ends alone that stand in for a long one.
    let wraps = wraps(&paper, Made::Paper(paper.paper)).into_iter();
    let wraps = wraps.flat_map(|whole| {
        let ends = whole.ends.clone();
        std::iter::once(whole).chain(ends)
    });
    for mut wrap in wraps {
        wrap.ends.clear();
        let blocks = wrap_blocks(&wrap, PaperSize::Letter);
        assert!(blocks.len() > 1, "{}", wrap.id);
        // A block keeps the pattern's own coordinates: tiles laid together by them.
        let whole = Layout::of(&wrap, &[]).drawing;
        let outline = dots(path(&whole, &wrap.id).unwrap());
        let on_tile = |block: &Block| path(&block.drawing, &wrap.id).map(dots);
        let tiles: Vec<_> = blocks.iter().filter_map(on_tile).flatten().collect();
        let off = |from: &[Vec<[f64; 2]>], to: &[Vec<[f64; 2]>]| {
            let offs = from.iter().flatten().map(|dot| distance(*dot, to));
            offs.fold(0.0, f64::max)
        };
        // All of the outline is on the tiles, and nothing else.
        assert!(off(&outline, &tiles) < 1e-3 && off(&tiles, &outline) < 1e-3);
        // Straight sides have no dots between their ends: halfway up each of them.
        let (low, high) = wrap.outline.extent();
        let halfway = [0.0, (low + high).mm() / 2.0];
        assert!(distance(halfway, &tiles) < 1e-9);
        // Every register mark stands on two neighbors, at one place.
        let mut marks: Vec<(&str, [f64; 2])> = Vec::new();
        for block in &blocks {
            for item in block.drawing.items() {
                let Some(id) = item.id.as_deref().filter(|id| id.starts_with("register")) else {
                    continue;
                };
                let area = item.shape.area();
                assert!(
                    (area.width() - area.height()).abs() < 1e-9,
                    "a whole diamond"
                );
                assert_eq!(item.layer, Layer::Help);
                marks.push((id, [area.left, area.low]));
            }
        }
        marks.sort_by(|a, b| a.0.cmp(b.0));
        assert!(!marks.is_empty() && marks.len().is_multiple_of(2));
        for pair in marks.chunks(2) {
            assert_eq!(pair[0], pair[1]);
        }
    }
}

/// Words of all sheets.
fn said(sheets: &[Sheet]) -> Vec<&str> {
    let texts = sheets.iter().flat_map(|sheet| sheet.drawing.texts());
    texts.map(|text| text.content.as_str()).collect()
}

/// A tube that is cut square had four pages of pattern with nothing on them.
#[test]
fn a_square_piece_has_no_pattern_and_is_told() {
    let run = run_of(60.3, &[(900.0, 0.0, 0.0)]);
    assert!(wraps(&on_paper(&run, &[]), Made::Card(Length::ZERO)).is_empty());
    assert!(pattern_sheets(&on_paper(&run, &[]), PaperSize::A4).is_empty());
    let mut roll = Roll::new();
    roll.add_patterns(&on_paper(&run, &[]), Made::Paper(mm(0.1)));
    let (drawing, page) = roll.page();
    assert!(page.holds(&drawing.area()));
    let words: Vec<&str> = drawing.texts().map(|text| text.content.as_str()).collect();
    let words = words.join(" ");
    assert!(
        words.contains("no pattern") && words.contains("piece 1 35 7/16 in"),
        "{words}"
    );
}

/// The ends of a long piece are those of the whole, and lie as far apart as they say.
#[test]
fn ends_alone_are_the_whole_pattern_s_ends() {
    let legs = [(700.0, 30.0, 0.0), (900.0, 20.0, 75.0), (800.0, 0.0, 0.0)];
    let run = run_of(48.3, &legs);
    let paper = on_paper(&run, &[]);
    let wraps = wraps(&paper, Made::Paper(paper.paper));
    assert_eq!(
        wraps.iter().map(|wrap| wrap.ends.len()).collect::<Vec<_>>(),
        [1, 2, 1]
    );
    for (i, wrap) in wraps.iter().enumerate() {
        let clocks = (0..24).map(|i| degrees(f64::from(i) * 15.0));
        let length = wrap.outline.sleeve().length();
        // Each end's straight edge, from the whole's start.
        let mut straight = Vec::new();
        for end in &wrap.ends {
            let at_start = end.id.ends_with("-start");
            assert_eq!(end.outline.width(), wrap.outline.width());
            let own = end.outline.sleeve().length();
            let off = if at_start { Length::ZERO } else { length - own };
            straight.push(if at_start { own } else { off });
            for clock in clocks.clone() {
                assert_eq!(end.outline.across(clock), wrap.outline.across(clock));
                let [own, whole] = match at_start {
                    true => [end.outline.start_at(clock), wrap.outline.start_at(clock)],
                    false => [end.outline.end_at(clock) + off, wrap.outline.end_at(clock)],
                };
                assert!((own - whole).abs().mm() < 1e-9);
                // Enough of the tube is left to wrap it by.
                let room = end.outline.end_at(clock) - end.outline.start_at(clock);
                assert!(room.mm() > 37.9);
            }
        }
        let between = match (i, &straight[..]) {
            (0, [end]) => *end,
            (1, [start, end]) => *end - *start,
            (_, [start]) => length - *start,
            _ => panic!("{straight:?}"),
        };
        let quarters = between.inches() * 4.0;
        assert!(
            (quarters - quarters.round()).abs() < 1e-9,
            "to be found on a tape"
        );
        let told = paper.style.length(between);
        for end in &wrap.ends {
            assert!(end.facts.contains(&told), "{}: {told}", end.facts);
        }
        let blocks = wrap_blocks(wrap, PaperSize::A4);
        assert_eq!(
            blocks.len(),
            wrap.ends.len(),
            "no page of straight sides alone"
        );
    }
}

/// The pattern is as long as planned; whoever cuts along it loses what is to be left for
/// the gap.
#[test]
fn the_piece_for_last_says_so_on_its_pattern() {
    let run = run_of(
        63.5,
        &[(60.0, 20.0, 0.0), (90.0, 20.0, 75.0), (60.0, 0.0, 0.0)],
    );
    let paper = RunOnPaper {
        longer: Some((2, Length::from_inches(15.0 / 16.0))),
        ..on_paper(&run, &[])
    };
    let sheets = pattern_sheets(&paper, PaperSize::Letter);
    let words = said(&sheets).join(" ");
    for said in [
        "stack: piece 2, from joint 1 to joint 2, for last",
        "for last: saw 15/16 in longer, see the saw sheet",
        "to joint 2; for last: leave 15/16 in past this edge",
    ] {
        assert_eq!(words.matches(said).count(), 1, "{said}: {words}");
    }
    assert!(
        !said(&pattern_sheets(&on_paper(&run, &[]), PaperSize::Letter))
            .join(" ")
            .contains("for last")
    );
}
