//! What papers say of stock bends: a leg that had to be sawn off was called "as it is", and
//! no paper said where to cut.

use runwright::export::{BendRow, Exporter, Pieces, PlanJson, Sheet};
use runwright::job::read_job;
use runwright::plan::{Plan, PlanFile, plan, read_plan};
use runwright::tube::Sawn;
use serde_json::{Value, json};

/// The bend that was called "as it is" with a leg of 150 mm where the run has 110.
fn legs() -> Value {
    job(
        json!({ "center": [200, 0, 240], "outward": [-1, 0, 0], "straight": 0 }),
        json!({ "bends": [ { "name": "mandrel 90", "clr": 90, "turn": 90, "leg": 150 } ] }),
    )
}

fn job(to: Value, shop: Value) -> Value {
    json!({
        "units": "mm",
        "tube": { "od": 60.3, "wall": 2, "material": "304" },
        "ports": {
            "a": { "center": [0, 0, 0], "outward": [0, 0, 1], "straight": 0 },
            "b": to,
        },
        "shop": shop,
        "runs": [ { "name": "run", "from": "a", "to": "b", "made_of": "stock" } ],
    })
}

/// Legs sawn at one end, sawn away, arcs cut down with and without a leg that stays, a root
/// gap, and an elbow as it is.
fn jobs() -> Vec<(&'static str, Value)> {
    let mandrel = |leg: f64| json!([{ "name": "mandrel 90", "clr": 90, "turn": 90, "leg": leg }]);
    let elbow = |size: &str| json!([{ "b16_9": size }]);
    let port = |center: [f64; 3], outward: [f64; 3]| json!({ "center": center, "outward": outward, "straight": 0 });
    let skew = port([200.0, 60.0, 240.0], [-1.0, 0.0, -0.3]);
    vec![
        ("legs", legs()),
        ("skew", job(skew, json!({ "bends": mandrel(150.0) }))),
        (
            "straights between",
            job(
                port([300.0, 80.0, 340.0], [-1.0, 0.0, 0.3]),
                json!({ "bends": mandrel(40.0) }),
            ),
        ),
        (
            "small legs",
            job(
                port([120.0, 0.0, 300.0], [0.0, 0.0, -1.0]),
                json!({ "bends": elbow("2 LR 45") }),
            ),
        ),
        (
            "gap",
            job(
                port([200.0, 0.0, 240.0], [-1.0, 0.0, 0.0]),
                json!({ "bends": elbow("2 LR 90"), "gap": 1 }),
            ),
        ),
        (
            "as it is",
            job(
                port([76.0, 0.0, 76.0], [-1.0, 0.0, 0.0]),
                json!({ "bends": elbow("2 LR 90") }),
            ),
        ),
        (
            "duct",
            serde_json::from_str(include_str!("../examples/duct.json")).unwrap(),
        ),
    ]
}

fn planned(job: &Value) -> Plan {
    let job = read_job(job.to_string().as_bytes(), "job").job.unwrap();
    plan(&job).unwrap()
}

fn text(exporter: &dyn Exporter, plan: &Plan) -> String {
    let file = exporter.files(plan).unwrap().remove(0);
    String::from_utf8(file.bytes).unwrap()
}

/// The sheet with no line broken.
fn sheet(plan: &Plan) -> String {
    let sheet = text(&Sheet, plan);
    sheet.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn file(plan: &Plan) -> PlanFile {
    read_plan(text(&PlanJson, plan).as_bytes()).unwrap()
}

fn rows(plan: &Plan) -> Vec<BendRow> {
    BendRow::all(plan.runs[0].run(), &plan.bought_bends(0), plan.job.style)
}

#[test]
fn a_leg_that_is_sawn_is_told_and_not_called_as_it_is() {
    let plan = planned(&legs());
    let sheet = sheet(&plan);
    assert!(!sheet.contains("as it is"), "{sheet}");
    for said in [
        "stock bend 'mandrel 90' with the leg at its end sawn to 110.0 mm",
        "piece 1: 'mandrel 90'; CLR 90.00 mm, 90.00° turn; legs: 150.0 mm at its start, 110.0 mm at its end",
        "cut 1: saw the leg at its end to 110.0 mm: take 40.0 mm off that end (as bought, the arc is 150.0 mm from it)",
    ] {
        assert_eq!(sheet.matches(said).count(), 1, "{said}: {sheet}");
    }
}

#[test]
fn only_a_bend_without_a_cut_is_as_it_is() {
    let mut seen = [false; 2];
    for (name, job) in jobs() {
        let plan = planned(&job);
        let rows = rows(&plan);
        assert!(!rows.is_empty(), "{name} has no stock bend");
        for row in &rows {
            assert_eq!(
                row.cuts.is_empty(),
                row.made == "as it is",
                "{name}: {row:?}"
            );
            seen[usize::from(row.cuts.is_empty())] = true;
        }
    }
    assert_eq!(seen, [true; 2], "some are sawn and some are not");
}

/// Each cut that is counted has its row: those of the stick, its first end, those of bends.
#[test]
fn every_cut_that_the_cost_counts_is_told() {
    for (name, job) in jobs() {
        let plan = planned(&job);
        let cost = &plan.runs[0].solution.best.cost;
        let sawn = plan.runs[0].saw.cuts.len();
        let sheet = sheet(&plan);
        let on_bends: usize = (1..=3)
            .map(|i| sheet.matches(&format!(" cut {i}: ")).count())
            .sum();
        assert_eq!(
            cost.cuts as usize,
            sawn + usize::from(sawn > 0) + on_bends,
            "{name}: {sheet}"
        );
        let rows: usize = rows(&plan).iter().map(|row| row.cuts.len()).sum();
        assert_eq!(rows, on_bends, "{name}");
    }
}

/// The bend as bought, less what its cuts take, is the piece: along the axis by what comes
/// off, and through the arc by (CLR ± r)·θ from the end that stays.
#[test]
fn bends_sawn_as_told_are_the_pieces() {
    let mut arcs = 0;
    for (name, job) in jobs() {
        let plan = planned(&job);
        let run = plan.runs[0].run();
        for bought in plan.bought_bends(0) {
            let stock = &bought.stock;
            let piece = run.pieces()[bought.piece - 1].piece.bent().unwrap();
            let (mut legs, mut turn) = ([stock.leg.mm(); 2], stock.turn.radians());
            for cut in bought.cuts(run) {
                match cut.sawn {
                    Sawn::Leg { off, .. } => legs[cut.end] -= off.mm(),
                    Sawn::Arc { from_end, .. } => {
                        arcs += 1;
                        // Past the leg that stays, which is sawn by then.
                        let stays = legs[1 - cut.end];
                        let radius = stock.od.mm() / 2.0;
                        let [outside, inside] = from_end.map(|side| side.mm() - stays);
                        turn = (outside - inside) / (2.0 * radius);
                        legs[cut.end] = (outside + inside) / 2.0 - stock.clr.mm() * turn;
                    }
                }
            }
            assert!((turn - piece.turn.radians()).abs() < 1e-6, "{name}");
            for (leg, piece) in legs.into_iter().zip(piece.legs) {
                // What no tape shows is not sawn.
                assert!((leg - piece.mm()).abs() < 0.05, "{name}: {leg} {piece:?}");
            }
        }
    }
    assert!(arcs > 3, "some arcs are cut through");
}

#[test]
fn a_plan_s_file_knows_what_its_bends_are_made_from() {
    for (name, job) in jobs() {
        let plan = planned(&job);
        let file = file(&plan);
        let style = plan.job.style;
        let again = BendRow::all(&file.runs[0].run, &file.runs[0].bends, style);
        assert_eq!(rows(&plan), again, "{name}");
    }
}

/// A file that does not say it, or says what cannot be, leaves it open: nothing is called
/// as it is, and no cut is made up.
#[test]
fn a_file_that_does_not_say_what_bends_are_made_from_leaves_it_open() {
    let value: Value = serde_json::from_str(&text(&PlanJson, &planned(&legs()))).unwrap();
    let bend = |key: &str, to: Value| {
        let mut value = value.clone();
        let bend = value["runs"][0]["bends"][0].as_object_mut().unwrap();
        match to {
            Value::Null => bend.remove(key),
            to => bend.insert(key.to_owned(), to),
        };
        read_plan(value.to_string().as_bytes()).unwrap()
    };
    for (key, to) in [
        ("bought_leg_mm", Value::Null),
        ("bought_turn_deg", Value::Null),
        ("stock", Value::Null),
        ("bought_leg_mm", json!(-1)),
        ("bought_leg_mm", json!(1e300)),
        ("bought_turn_deg", json!(30)),
        ("bought_turn_deg", json!("90")),
        ("piece", json!(7)),
        ("stock", json!("a\u{7}b")),
    ] {
        let file = bend(key, to.clone());
        let run = &file.runs[0];
        let rows = BendRow::all(&run.run, &run.bends, file.style);
        assert_eq!(rows.len(), 1, "{key} {to}");
        assert!(
            rows[0].made.is_empty() && rows[0].cuts.is_empty(),
            "{key} {to}: {rows:?}"
        );
    }
}

#[test]
fn the_spreadsheet_tells_a_bend_from_a_straight() {
    let plan = planned(&jobs().remove(6).1);
    let csv = text(&Pieces, &plan);
    let mut reader = csv::Reader::from_reader(csv.as_bytes());
    let header = reader.headers().unwrap().clone();
    let records: Vec<_> = reader.records().map(Result::unwrap).collect();
    let cell = |row: usize, name: &str| {
        let column = header.iter().position(|column| column == name);
        records[row][column.unwrap_or_else(|| panic!("no column {name}"))].to_owned()
    };
    let run = plan.runs[0].run();
    assert_eq!(records.len(), run.pieces().len());
    let closing = plan.longer()[0];
    for (row, placed) in run.pieces().iter().enumerate() {
        let number = |name: &str| cell(row, name).parse::<f64>().unwrap();
        assert!((number("tube_od_mm") - 114.3).abs() < 1e-9);
        assert!((number("tube_wall_mm") - 2.11).abs() < 1e-9);
        let longer = if row + 1 == closing.piece {
            closing.by.mm()
        } else {
            0.0
        };
        assert!((number("sawn_longer_mm") - longer).abs() < 1e-3);
        match placed.piece.bent() {
            None => {
                assert_eq!(cell(row, "kind"), "straight");
                for empty in [
                    "stock",
                    "clr_mm",
                    "turn_deg",
                    "start_leg_mm",
                    "bought_turn_deg",
                ] {
                    assert_eq!(cell(row, empty), "", "{empty}");
                }
            }
            Some(bent) => {
                assert_eq!(cell(row, "kind"), "stock-bend");
                assert_eq!(cell(row, "stock"), "NPS 4 LR 90");
                assert!((number("clr_mm") - bent.clr.mm()).abs() < 1e-3);
                assert!((number("turn_deg") - bent.turn.degrees()).abs() < 1e-3);
                assert_eq!(
                    (number("bought_turn_deg"), number("bought_leg_mm")),
                    (90.0, 0.0)
                );
                assert_eq!((number("start_leg_mm"), number("end_leg_mm")), (0.0, 0.0));
            }
        }
    }
}

/// The pattern, the pieces and the spreadsheet gave the plain length of the piece that the
/// saw sheet saws longer.
#[test]
fn the_piece_for_last_is_marked_wherever_its_length_stands() {
    let plan = planned(&serde_json::from_str(include_str!("../examples/stack.json")).unwrap());
    let by = plan.job.style.length(plan.longer()[0].by);
    let said = format!("for last: saw {by} longer, see the saw sheet");
    assert_eq!(sheet(&plan).matches(&said).count(), 1);
    let patterns = text(&runwright::export::Patterns::default(), &plan);
    assert_eq!(patterns.matches(&said).count(), 1);
    assert_eq!(
        patterns
            .matches(&format!("leave {by} past this edge"))
            .count(),
        1
    );
}

/// 0.00° stood at every joint beside an elbow.
#[test]
fn a_square_joint_bends_by_nothing() {
    let plan = planned(&jobs().remove(6).1);
    let sheet = text(&Sheet, &plan);
    let table = sheet.split("TACK UP").nth(1).unwrap();
    let table = table.split("A TAPE THEN READS").next().unwrap();
    let (_, rows) = table.split_once("  bend\n").expect("the table's titles");
    let bends = rows
        .lines()
        .filter(|line| line.contains(" piece ") || line.contains(" close "));
    let bends: Vec<&str> = bends
        .filter_map(|line| line.split_whitespace().last())
        .collect();
    assert_eq!(bends.len(), plan.runs[0].run().joints().len());
    let joints = plan.runs[0].run().joints();
    let miters = joints
        .iter()
        .filter(|joint| joint.cut() > runwright::units::Angle::ZERO);
    assert_eq!(
        bends.iter().filter(|bend| **bend != "–").count(),
        miters.count()
    );
    assert!(!bends.contains(&"0.00°"));
}

/// A run from the shop's sticks had a tape without a mark.
#[test]
fn the_clock_tape_has_its_marks_from_several_sticks_too() {
    let mut job: Value = serde_json::from_str(include_str!("../examples/stack.json")).unwrap();
    job["shop"] = json!({ "sticks": [ { "length": "10 in" } ] });
    let plan = planned(&job);
    assert!(plan.cut_list().sticks.len() > 1);
    let files = runwright::export::Jigs::default().files(&plan).unwrap();
    let tape = String::from_utf8(files[0].bytes.clone()).unwrap();
    for cut in plan
        .cut_list()
        .cuts_of(0)
        .iter()
        .filter(|cut| !cut.is_square())
    {
        let clock = plan.job.style.clock(cut.mark);
        let piece = cut.piece().unwrap().to_string();
        let named = tape.split('>').filter_map(|part| part.split('<').next());
        let mut named = named.filter(|words| words.starts_with("piece") && words.ends_with(&clock));
        let has = |words: &str| words.split([' ', ',', ':', '-']).any(|word| word == piece);
        assert!(
            named.any(|words| has(words) || words.contains('-')),
            "{piece}: {clock}"
        );
    }
}
