//! Sticks: saw sheets with their stops, and layouts over stock lengths and leftovers,
//! replayed cut by cut and against every way there is for a few pieces.

mod support;

use proptest::prelude::*;
use runwright::export::{Exporter, PlanJson, Sheet};
use runwright::geometry::Point;
use runwright::job::{Job, Problem, read_job};
use runwright::plan::{plan, read_plan};
use runwright::run::Run;
use runwright::shop::{
    CutList, Drops, Leftover, Longer, SawSheet, Stick, StickLayout, StickPiece, StickSource,
    StickStock, StockStick, StockTube, lay_out, stop_distance,
};
use runwright::tube::{Facets, Piece, Tube};
use runwright::units::{Angle, Length};

const KERF: f64 = 2.0;
/// How far a stick may be overfull, mm (`shop/sticks/cutting.rs`).
const FITS: f64 = 1e-3;

fn mm(mm: f64) -> Length {
    Length::from_mm(mm)
}

/// Edges in a plane with a miter of `cuts` degrees between neighbors, turning one way and
/// the other.
fn zigzag(lengths: &[f64], cuts: &[f64]) -> Run {
    let (mut at, mut heading) = (Point::origin(), Angle::ZERO);
    let mut points = vec![at];
    for (i, &length) in lengths.iter().enumerate() {
        let (sin, cos) = heading.sin_cos();
        at.x += cos * length;
        at.y += sin * length;
        points.push(at);
        let turn = Angle::from_degrees(2.0 * cuts.get(i).copied().unwrap_or(0.0));
        heading = if i % 2 == 0 {
            heading + turn
        } else {
            heading - turn
        };
    }
    support::run_along(&support::tube(), points).0
}

/// A helix: every joint turned and clocked alike.
fn helix(pieces: u32) -> Run {
    let point = |i: u32| {
        let (sin, cos) = Angle::from_degrees(18.0 * f64::from(i)).sin_cos();
        Point::new(150.0 * cos, 150.0 * sin, 8.0 * f64::from(i))
    };
    support::run_along(&support::tube(), (0..=pieces).map(point).collect()).0
}

/// Straight pieces, square at both ends.
fn squares(lengths: &[f64]) -> Vec<Run> {
    lengths
        .iter()
        .map(|&length| zigzag(&[length], &[]))
        .collect()
}

fn stock(sticks: &[f64], shelf: &[f64]) -> StickStock {
    let sticks = sticks.iter().map(|&length| StockStick {
        length: mm(length),
        price: None,
        count: None,
        of: StockTube::default(),
    });
    let shelf = shelf.iter().map(|&length| Leftover {
        length: mm(length),
        of: StockTube::default(),
    });
    StickStock {
        sticks: sticks.collect(),
        shelf: shelf.collect(),
        ..StickStock::default()
    }
}

fn laid(runs: &[Run], stock: &StickStock) -> StickLayout {
    let runs: Vec<&Run> = runs.iter().collect();
    let mut layouts = lay_out(&runs, mm(KERF), stock, &[]);
    assert_eq!(layouts.len(), 1, "one tube");
    layouts.remove(0)
}

// --- the saw sheet ---

/// Two flat plates that touch a piece at both ends, whatever its clock.
#[test]
fn a_stop_stands_at_the_foremost_point_of_the_face() {
    let run = helix(12);
    let radius = run.tube().radius();
    let facets = Facets::within(radius, mm(1e-4));
    for (step, placed) in SawSheet::new(0, &run, mm(KERF))
        .cuts
        .iter()
        .zip(run.pieces())
    {
        let piece = placed.piece.straight().expect("all are straight");
        let heights = piece
            .mesh(facets)
            .vertices
            .iter()
            .map(|p| p.z)
            .collect::<Vec<_>>();
        let low = heights.iter().copied().fold(f64::INFINITY, f64::min);
        let high = heights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        assert!((step.stop.mm() - (high - low)).abs() < 1e-3, "{step:?}");
        assert!(step.stop >= piece.long_side() - mm(1e-9));
    }
}

/// Unclocked pies have both long sides on one line: the stop is set to the long side, and
/// all of a bend after the first are cut by half turns with nothing set anew.
#[test]
fn pies_of_one_bend_are_cut_in_one_go() {
    let run = support::run_along(
        &support::tube(),
        (0..=7)
            .map(|i| {
                let (sin, cos) = Angle::from_degrees(15.0 * f64::from(i)).sin_cos();
                Point::new(200.0 * cos, 200.0 * sin, 0.0)
            })
            .collect(),
    )
    .0;
    let sheet = SawSheet::new(0, &run, mm(KERF));
    let last = sheet.cuts.len() - 1;
    for (i, (step, placed)) in sheet.cuts.iter().zip(run.pieces()).enumerate() {
        let piece = placed.piece.straight().expect("all are straight");
        assert!((step.stop - piece.long_side()).abs().mm() < 1e-9);
        assert_eq!(step.mates, i != last);
        assert_eq!(step.is_half_turn(), (1..last).contains(&i));
        // The first pie of the same size sets stop and saw.
        assert_eq!(step.again, (2..last).contains(&i));
    }
}

#[test]
fn a_clocked_piece_is_shorter_on_every_side_than_between_plates() {
    let run = helix(3);
    let piece = run.pieces()[1].piece.straight().expect("a pie");
    let cuts = [piece.start().angle, piece.end().angle];
    let stop = stop_distance(piece.length(), run.tube().radius(), cuts);
    assert!(stop > piece.long_side());
}

// --- layouts by hand ---

/// Cutting stock by hand: 2 mm kerf, the stick's own end is cut too.
#[test]
fn pieces_fill_a_stick_to_the_last_kerf() {
    // 4 pieces of 248 take 4 × 250 + 2 = 1002.
    let four = squares(&[248.0; 4]);
    let layout = laid(&four, &stock(&[1002.0], &[]));
    assert_eq!(layout.sticks.len(), 1);
    assert!(layout.is_proven());
    let stick = &layout.sticks[0];
    assert!(stick.remnant.mm() < FITS);
    assert!((stick.used().mm() - 992.0).abs() < 1e-9);
    assert!((stick.kerf_loss().mm() - 10.0).abs() < 1e-9);
    // A hundredth less holds three.
    let layout = laid(&four, &stock(&[1001.99], &[]));
    assert_eq!(layout.sticks.len(), 2);
    assert!(layout.is_proven());
}

/// A run that is cut from one stick keeps its order and shares every cut: what its saw
/// sheet feeds, and the ends.
#[test]
fn a_run_on_one_stick_is_cut_in_its_own_order() {
    let run = helix(12);
    let sheet = SawSheet::new(0, &run, mm(KERF));
    let layout = laid(std::slice::from_ref(&run), &stock(&[6000.0], &[]));
    let [stick] = layout.sticks.as_slice() else {
        panic!("{} sticks", layout.sticks.len());
    };
    let pieces: Vec<usize> = stick.pieces().map(|(_, piece)| piece).collect();
    assert_eq!(pieces, (1..=12).collect::<Vec<_>>());
    let cuts = stick
        .cuts
        .iter()
        .filter(|cut| matches!(cut.drops, Drops::Piece { .. }));
    for (cut, step) in cuts.zip(&sheet.cuts) {
        assert!((cut.feed - step.feed).abs().mm() < 1e-6);
        assert!((cut.stop - step.stop).abs().mm() < 1e-6);
        let turned = (cut.rotate - step.rotate).wrapped().degrees();
        assert!(turned.min(360.0 - turned) < 1e-6, "{turned}");
        assert_eq!(
            (cut.mates, cut.is_half_turn()),
            (step.mates, step.is_half_turn())
        );
    }
    let used = sheet.stick() + mm(KERF);
    assert!((stick.length - stick.remnant - used).abs().mm() < 1e-6);
}

/// Two runs of one tube share the shop's sticks, a third of another tube has one of its own.
#[test]
fn every_piece_comes_to_the_saw_once() {
    let shared = [helix(12), helix(5)];
    let thin = Tube::new(mm(20.0), mm(1.0), "304").expect("a tube");
    let corners = [[0.0; 3], [0.0, 0.0, 200.0], [60.0, 0.0, 350.0]].map(Point::from);
    let own = support::run_along(&thin, corners.to_vec()).0;
    let layouts = lay_out(
        &[&shared[0], &shared[1]],
        mm(KERF),
        &stock(&[300.0], &[]),
        &[],
    );
    let runs = [&shared[0], &shared[1], &own];
    let list = CutList::new(&runs, mm(KERF), &layouts, &[]);
    assert_eq!(list.sticks.len(), layouts[0].sticks.len() + 1);
    let mut cut: Vec<(usize, usize)> = Vec::new();
    for stick in &list.sticks {
        cut.extend(stick.cuts.iter().filter_map(|cut| match cut.drops {
            Drops::Piece { run, piece, .. } => Some((run, piece)),
            Drops::End | Drops::Wedge => None,
        }));
    }
    cut.sort_unstable();
    let all = runs.iter().enumerate();
    let all = all.flat_map(|(run, own)| (1..=own.pieces().len()).map(move |piece| (run, piece)));
    assert_eq!(cut, all.collect::<Vec<_>>());
}

/// Pieces lie on a stick as on the whole run's, but for where the count begins.
#[test]
fn pieces_on_one_stick_lie_as_on_the_runs_own() {
    let run = helix(12);
    let layout = laid(std::slice::from_ref(&run), &stock(&[6000.0], &[]));
    let lying = StickPiece::lying(&layout.sticks[0].cuts, &[&run]);
    let sheet = SawSheet::new(0, &run, mm(KERF));
    let own = StickPiece::lying(&sheet.cuts, &[&run]);
    assert_eq!(lying.len(), 12);
    for (a, b) in lying.iter().zip(&own) {
        assert_eq!(
            (a.run, a.number, a.turnable, a.end_first),
            (0, b.number, b.turnable, false)
        );
        for (a, b) in [(a.start, b.start), (a.end, b.end)] {
            let apart = a.zip(b).map_or(0.0, |(a, b)| (a - b).wrapped().degrees());
            assert!(a.is_some() == b.is_some() && apart.min(360.0 - apart) < 1e-6);
        }
    }
}

/// A price decides, not the length.
#[test]
fn the_cheaper_sticks_are_bought() {
    let mut stock = stock(&[1000.0, 2000.0], &[]);
    stock.sticks[0].price = Some(10.0);
    stock.sticks[1].price = Some(25.0);
    let layout = laid(&squares(&[900.0, 900.0]), &stock);
    assert_eq!(layout.found.money, 20.0);
    stock.sticks[1].price = Some(15.0);
    let layout = laid(&squares(&[900.0, 900.0]), &stock);
    assert_eq!(layout.found.money, 15.0);
    assert!(layout.priced && layout.is_proven());
}

/// What the shop has is used before anything is bought, and as little of it as will do.
#[test]
fn leftovers_are_used_first_and_the_shortest_that_will_do() {
    let layout = laid(
        &squares(&[300.0]),
        &stock(&[1000.0], &[900.0, 350.0, 280.0]),
    );
    let [stick] = layout.sticks.as_slice() else {
        panic!("{} sticks", layout.sticks.len());
    };
    assert_eq!(stick.source, StickSource::Shelf { leftover: 1 });
    assert!(!stick.kept, "46 mm is scrap");
    assert_eq!((layout.found.money, layout.bought()), (0.0, Length::ZERO));
}

#[test]
fn a_piece_that_no_stick_holds_is_named_and_the_rest_laid_out() {
    let layout = laid(&squares(&[1500.0, 300.0]), &stock(&[1000.0], &[]));
    let [piece] = layout.too_long.as_slice() else {
        panic!("{:?}", layout.too_long);
    };
    assert_eq!((piece.run, piece.piece), (0, 1));
    assert!((piece.needs.mm() - 1504.0).abs() < 1e-9);
    assert_eq!(layout.sticks.len(), 1);
}

#[test]
fn sticks_that_are_not_there_are_missing() {
    let mut stock = stock(&[1000.0], &[]);
    stock.sticks[0].count = Some(1);
    let layout = laid(&squares(&[900.0, 900.0, 900.0]), &stock);
    let missing = layout
        .sticks
        .iter()
        .filter(|stick| stick.source == StickSource::Missing);
    assert_eq!(missing.count(), 2);
    assert_eq!(layout.found.missing, mm(2000.0));
    assert!(layout.is_proven());
}

#[test]
fn each_tube_has_sticks_of_its_own() {
    let thin = Tube::new(mm(38.0), mm(1.5), "304").expect("a tube");
    let line = vec![Point::origin(), Point::new(500.0, 0.0, 0.0)];
    let (other, ..) = support::run_along(&thin, line);
    let run = zigzag(&[400.0], &[]);
    let mut stock = stock(&[1000.0, 1200.0], &[600.0]);
    stock.sticks[0].of.od = Some(run.tube().od());
    stock.shelf[0].of.od = Some(mm(38.0));
    let layouts = lay_out(&[&run, &other], mm(KERF), &stock, &[]);
    assert_eq!(layouts.len(), 2);
    assert_eq!(layouts[0].sticks[0].length, mm(1000.0));
    assert_eq!(
        layouts[1].sticks[0].source,
        StickSource::Shelf { leftover: 0 }
    );
    // Sticks of neither.
    stock.sticks.truncate(1);
    assert_eq!(lay_out(&[&other], mm(KERF), &stock, &[]), []);
    assert_eq!(lay_out(&[], mm(KERF), &stock, &[]), []);
}

/// Sixty pieces of a duct: settled, and fast enough not to be noticed.
#[test]
fn sixty_pieces_are_proven_best() {
    let mut lengths = Vec::new();
    for (i, count) in [14, 11, 9, 8, 6, 5, 4, 3].into_iter().enumerate() {
        lengths.extend(vec![61.3 + 117.7 * i as f64; count]);
    }
    assert_eq!(lengths.len(), 60);
    let shelf: Vec<f64> = (0..10).map(|i| 140.0 + 93.3 * f64::from(i)).collect();
    let layout = laid(
        &squares(&lengths),
        &stock(&[3000.0, 4000.0, 6000.0], &shelf),
    );
    replay(&layout, &squares(&lengths), &[]);
    assert!(layout.is_proven(), "{:?} {:?}", layout.found, layout.least);
}

// --- in a job ---

const JOB: &str = r#"{
  "units": "in",
  "tube": { "od": 2.5, "wall": 0.065, "material": "304" },
  "ports": {
    "outlet": { "center": [0, 0, 0], "outward": [0, 0, 1] },
    "exit": { "center": ["8 1/2", 4, 10], "outward": [-1, 0, 0] } },
  "runs": [ { "name": "stack", "from": "outlet", "to": "exit" } ],
  "shop": SHOP }"#;

fn read(shop: &str) -> Result<Job, Vec<Problem>> {
    let checked = read_job(JOB.replace("SHOP", shop).as_bytes(), "stack");
    checked.job.ok_or(checked.errors)
}

/// A plan's file alone is enough to lay out the same again.
#[test]
fn sticks_are_laid_out_again_from_the_plan_alone() {
    let job = read(
        r#"{ "sticks": [ { "length": 10, "price": 4.5 }, { "length": "1 ft", "price": 7, "count": 3, "od": 2.5 } ],
             "shelf": [ 5.5, { "length": "120 mm", "wall": 0.065, "material": "304" }, { "length": 40, "od": 3 } ],
             "least_leftover": 2, "kerf": "2 mm" }"#,
    )
    .expect("a job");
    let planned = plan(&job).expect("a plan");
    let [layout] = planned.sticks.as_slice() else {
        panic!("{} layouts", planned.sticks.len());
    };
    assert_eq!(planned.longer().len(), 1, "one piece is left for last");
    replay(layout, &[planned.runs[0].run().clone()], &planned.longer());
    assert!(layout.is_proven() && layout.too_long.is_empty());
    assert!(layout.found.touched > Length::ZERO);
    let files = PlanJson.files(&planned).expect("a file");
    let file = read_plan(&files[0].bytes).expect("a plan");
    assert_eq!(file.stick_stock, job.stick_stock);
    let runs: Vec<&Run> = file.runs.iter().map(|run| &run.run).collect();
    let again = lay_out(&runs, file.kerf, &file.stick_stock, &file.longer());
    assert_eq!(again.len(), 1);
    let pieces = |layout: &StickLayout| -> Vec<Vec<(usize, usize)>> {
        layout
            .sticks
            .iter()
            .map(|stick| stick.pieces().collect())
            .collect()
    };
    assert_eq!(pieces(&again[0]), pieces(layout));
    assert_eq!(again[0].found, layout.found);
    let sheet = Sheet.files(&planned).expect("a sheet");
    let sheet = String::from_utf8(sheet[0].bytes.clone()).expect("text");
    assert!(sheet.contains("STICKS"), "{sheet}");
}

#[test]
fn a_job_without_sticks_has_no_layout() {
    let planned = plan(&read("{}").expect("a job")).expect("a plan");
    assert_eq!(planned.sticks, []);
}

#[test]
fn what_is_wrong_with_sticks_is_said() {
    let places = |shop: &str| -> Vec<String> {
        let problems = read(shop).expect_err("an error");
        problems.into_iter().map(|problem| problem.path).collect()
    };
    assert_eq!(places(r#"{ "sticks": [ {} ] }"#), ["shop.sticks[0].length"]);
    assert_eq!(
        places(r#"{ "sticks": [ { "length": 0 } ] }"#),
        ["shop.sticks[0].length"]
    );
    assert_eq!(
        places(r#"{ "sticks": [ { "length": 10, "price": -1, "count": 1.5 } ] }"#),
        ["shop.sticks[0].price", "shop.sticks[0].count"]
    );
    let mixed = r#"{ "sticks": [ { "length": 10, "price": 1 }, { "length": 20 } ] }"#;
    assert_eq!(places(mixed), ["shop.sticks"]);
    assert_eq!(places(r#"{ "shelf": [ 10 ] }"#), ["shop.sticks"]);
    let leftover = r#"{ "sticks": [ { "length": 10 } ], "shelf": [ "long", { "od": 2 } ] }"#;
    assert_eq!(places(leftover), ["shop.shelf[0]", "shop.shelf[1].length"]);
    let unknown = r#"{ "sticks": [ { "length": 10 } ], "shelf": [ { "lenght": 2 } ] }"#;
    assert!(
        places(unknown).contains(&"shop.shelf[0].lenght".to_owned()),
        "{:?}",
        places(unknown)
    );
}

#[test]
fn sticks_of_no_run_are_warned_of() {
    let shop = r#"{ "sticks": [ { "length": 100, "od": 3 } ], "shelf": [ { "length": 9, "material": "Ti" } ] }"#;
    let checked = read_job(JOB.replace("SHOP", shop).as_bytes(), "stack");
    let places: Vec<&str> = checked
        .warnings
        .iter()
        .map(|problem| problem.path.as_str())
        .collect();
    assert_eq!(places, ["shop.sticks[0]", "shop.shelf[0]", "runs[0]"]);
}

// --- properties ---

/// Cuts a stick again, plane by plane, from what is said at the saw alone: angles and
/// feeds; each piece that drops must be the run's.
/// Cuts all sticks again; some pieces are cut `longer` than they are in their runs.
fn replay(layout: &StickLayout, runs: &[Run], longer: &[Longer]) {
    let mut seen = Vec::new();
    for stick in &layout.sticks {
        replay_stick(stick, (runs, longer), layout.tube.radius().mm(), &mut seen);
    }
    let mut all: Vec<(usize, usize)> = runs
        .iter()
        .enumerate()
        .flat_map(|(run, own)| (1..=own.pieces().len()).map(move |piece| (run, piece)))
        .filter(|&(run, piece)| {
            let is_it = |long: &&runwright::shop::TooLong| (long.run, long.piece) == (run, piece);
            layout.too_long.iter().find(is_it).is_none()
        })
        .collect();
    all.sort_unstable();
    seen.sort_unstable();
    assert_eq!(seen, all, "every piece once");
}

fn replay_stick(
    stick: &Stick,
    (runs, longer): (&[Run], &[Longer]),
    radius: f64,
    seen: &mut Vec<(usize, usize)>,
) {
    // Height of the free face at a clock: center, slope r·tan κ and where that is longest.
    let height = |(center, reach, long): (f64, f64, Angle), clock: Angle| {
        center + reach * (clock - long).cos()
    };
    // Ahead is less: the stick is cut from 0 on. The free face leads at its long side.
    let mut free = (0.0, 0.0, Angle::ZERO);
    let mut turned_by = Angle::ZERO;
    for cut in &stick.cuts {
        turned_by += cut.rotate;
        // The saw's long side is where the scribed line was; the tube was turned under it.
        let long = -turned_by;
        let gap = (cut.mark - long).wrapped().degrees();
        assert!(gap.min(360.0 - gap) < 1e-6, "mark and rotate differ");
        let (kerf, reach) = (KERF / cut.angle.cos(), radius * cut.angle.tan());
        let front = (free.0 + cut.feed.mm() - kerf, reach, long);
        let clocks = (0..360).map(|degree| Angle::from_degrees(f64::from(degree)));
        let sides = clocks.map(|clock| height(front, clock) - height(free, clock));
        let (short, long_side) = sides.fold((f64::INFINITY, 0.0_f64), |(short, long), side| {
            (short.min(side), long.max(side))
        });
        assert!(short > -1e-6, "cuts cross: {short}");
        if let Drops::Piece { run, piece, turned } = cut.drops {
            let own = runs[run].pieces()[piece - 1]
                .piece
                .straight()
                .expect("a straight piece");
            let by = Longer::of(longer, run, piece);
            assert_is(own, cut.length - by, [short - by.mm(), long_side - by.mm()]);
            // What stays at a cut is long where what dropped was short.
            let clock = (long - free.2 - Angle::HALF - own.clock())
                .wrapped()
                .degrees();
            let both = own.start().angle > Angle::ZERO && own.end().angle > Angle::ZERO;
            assert!(!both || clock.min(360.0 - clock) < 1e-6, "{clock}");
            let ends = [own.start(), own.end()].map(|cut| radius * cut.angle.tan());
            let ends = if turned { [ends[1], ends[0]] } else { ends };
            assert!((ends[0] - free.1).abs() < 1e-5 && (ends[1] - reach).abs() < 1e-5);
            seen.push((run, piece));
        }
        free = (front.0 + kerf, reach, long);
    }
    let left = stick.length.mm() - free.0 - free.1;
    assert!(left > -FITS, "overfull by {}", -left);
    assert!((stick.remnant.mm() - left.max(0.0)).abs() < 1e-6);
    let parts = stick.used() + stick.kerf_loss() + stick.wedge_loss() + stick.remnant;
    assert!((parts - stick.length).abs().mm() < 2.0 * FITS);
}

/// The sides of what dropped are the piece's, to what a degree of clock leaves out.
fn assert_is(piece: &Piece, length: Length, [short, long]: [f64; 2]) {
    let slack = piece.tube().radius().mm() * 1e-4;
    assert!((piece.length() - length).abs().mm() < 1e-6);
    assert!((piece.short_side().mm() - short).abs() < slack, "{short}");
    assert!((piece.long_side().mm() - long).abs() < slack, "{long}");
}

/// A few runs with saw angles of a few kinds, in a plane.
fn mitered(most: usize) -> impl Strategy<Value = Vec<Run>> {
    let cut = prop::sample::select(vec![4.5, 9.0, 15.0]);
    let length = prop_oneof![Just(90.0), 60.0..400.0_f64];
    let run = prop::collection::vec((length, cut), 1..=most);
    let run = run.prop_map(|edges| {
        let (lengths, cuts): (Vec<f64>, Vec<f64>) = edges.into_iter().unzip();
        zigzag(&lengths, &cuts)
    });
    prop::collection::vec(run, 1..=2)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn layouts_can_be_cut(
        runs in mitered(6),
        helical in 1..14_u32,
        sticks in prop::collection::vec(300.0..1500.0_f64, 1..3),
        shelf in prop::collection::vec(50.0..900.0_f64, 0..5),
    ) {
        let mut runs = runs;
        runs.push(helix(helical));
        let layout = laid(&runs, &stock(&sticks, &shelf));
        replay(&layout, &runs, &[]);
        let (found, least) = (layout.found, layout.least);
        prop_assert!(least.missing <= found.missing + mm(FITS));
        prop_assert!(least.money <= found.money + FITS);
        prop_assert!((0.0..=1.0).contains(&layout.gap()));
        prop_assert!(layout.longest_remnant() <= layout.longest_possible + mm(2.0 * FITS));
        prop_assert!(layout.waste() >= -mm(FITS));
    }

    /// The order of runs, sticks and leftovers is no part of the question.
    #[test]
    fn order_changes_no_cost(
        lengths in prop::collection::vec(50.0..700.0_f64, 1..14),
        sticks in prop::collection::vec(800.0..1500.0_f64, 1..4),
        shelf in prop::collection::vec(50.0..900.0_f64, 0..5),
    ) {
        let forward = laid(&squares(&lengths), &stock(&sticks, &shelf));
        let turned = |list: &[f64]| list.iter().rev().copied().collect::<Vec<_>>();
        let backward = laid(
            &squares(&turned(&lengths)),
            &stock(&turned(&sticks), &turned(&shelf)),
        );
        prop_assert!((forward.found.money - backward.found.money).abs() < 1e-6);
        prop_assert!((forward.found.touched - backward.found.touched).abs().mm() < 1e-6);
        prop_assert_eq!(forward.found.sticks, backward.found.sticks);
        prop_assert_eq!(forward.clone(), laid(&squares(&lengths), &stock(&sticks, &shelf)));
    }

    /// Against every way to share a few mitered pieces out, in every order and turned
    /// either way.
    #[test]
    fn no_way_to_cut_a_few_takes_fewer_sticks(
        edges in prop::collection::vec((70.0..260.0_f64, prop::sample::select(vec![5.0, 14.0])), 1..5),
        length in 300.0..500.0_f64,
        shelf in 60.0..300.0_f64,
    ) {
        let (lengths, cuts): (Vec<f64>, Vec<f64>) = edges.into_iter().unzip();
        let run = zigzag(&lengths, &cuts);
        let (bought, touched) = every_way(&run, length, shelf);
        let layout = laid(&[run], &stock(&[length], &[shelf]));
        prop_assert!(layout.too_long.is_empty());
        prop_assert!(layout.is_proven());
        prop_assert!((layout.found.money - f64::from(bought) * length).abs() < 1e-6);
        prop_assert_eq!(layout.found.touched.mm() > 0.0, touched);
    }

    /// Kerfs, lengths and prices at the edge of what numbers can be do no harm.
    #[test]
    fn hostile_numbers_are_survived(
        length in prop_oneof![Just(0.0), Just(-1.0), Just(f64::NAN), Just(f64::INFINITY), Just(1e-300), Just(1e300), 1.0..1e5_f64],
        shelf in prop_oneof![Just(0.0), Just(f64::NAN), Just(f64::NEG_INFINITY), Just(1e18)],
        kerf in prop_oneof![Just(0.0), Just(f64::NAN), Just(f64::INFINITY), Just(1e9), Just(-3.0)],
        price in prop_oneof![Just(0.0), Just(f64::NAN), Just(f64::INFINITY), Just(1e300), Just(-5.0)],
        count in prop::option::of(prop_oneof![Just(0_u32), Just(u32::MAX)]),
    ) {
        let mut stock = stock(&[length, 1000.0], &[shelf, 400.0]);
        stock.sticks[0].price = Some(price);
        stock.sticks[0].count = count;
        let run = helix(5);
        let _ = lay_out(&[&run], mm(kerf), &stock, &[]);
    }
}

/// Fewest new sticks for one run, and whether the leftover must be touched for it, by
/// trying all.
fn every_way(run: &Run, length: f64, shelf: f64) -> (u32, bool) {
    let radius = run.tube().radius().mm();
    let pieces: Vec<(f64, [f64; 2])> = run
        .pieces()
        .iter()
        .map(|placed| {
            let piece = placed.piece.straight().expect("all are straight");
            let cuts = [piece.start().angle, piece.end().angle].map(Angle::radians);
            (piece.length().mm(), cuts)
        })
        .collect();
    let all = 1_u32 << pieces.len();
    let takes: Vec<f64> = (0..all)
        .map(|set| least(&pieces, set, None, radius))
        .collect();
    let mut fewest = vec![u32::MAX; all as usize];
    fewest[0] = 0;
    for set in 1..all {
        let mut part = set;
        while part > 0 {
            if takes[part as usize] <= length + FITS {
                let rest = fewest[(set & !part) as usize];
                fewest[set as usize] = fewest[set as usize].min(rest.saturating_add(1));
            }
            part = (part - 1) & set;
        }
    }
    let without = fewest[all as usize - 1];
    let with = (1..all)
        .filter(|&set| takes[set as usize] <= shelf + FITS)
        .map(|set| fewest[(all - 1 - set) as usize])
        .min();
    match with {
        Some(with) if with < without => (with, true),
        _ => (without, false),
    }
}

/// The least that the pieces of `set` take of a stick after a face cut at `face`.
fn least(pieces: &[(f64, [f64; 2])], set: u32, face: Option<f64>, radius: f64) -> f64 {
    let kerf = |angle: f64| KERF / angle.cos();
    let reach = |angle: Option<f64>| radius * angle.map_or(0.0, f64::tan);
    if set == 0 {
        return reach(face);
    }
    let mut least_taken = f64::INFINITY;
    for (i, &(length, [start, end])) in pieces.iter().enumerate() {
        if set & (1 << i) == 0 {
            continue;
        }
        for (first, last) in [(start, end), (end, start)] {
            let shared = face.is_some_and(|face| (face - first).abs() < 1e-9);
            let between = match shared {
                true => 0.0,
                false => kerf(first) + (reach(face) - reach(Some(first))).abs(),
            };
            let rest = least(pieces, set & !(1 << i), Some(last), radius);
            least_taken = least_taken.min(between + length + kerf(last) + rest);
        }
    }
    least_taken
}
