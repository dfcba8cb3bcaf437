use super::*;
use crate::state::Phase;
use serde_json::json;

fn examples() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../examples")
}

fn closed(path: &Path, bytes: &[u8]) -> Kept {
    close_gap(path, bytes, &Control::default()).unwrap()
}

fn stack_built() -> (PathBuf, Vec<u8>) {
    let path = examples().join("stack-built.json");
    let bytes = fs::read(&path).unwrap();
    (path, bytes)
}

#[test]
fn the_examples_gap_is_closed_and_its_piece_named() {
    let (path, bytes) = stack_built();
    let kept = closed(&path, &bytes);
    let run = &kept.runs[0];
    // The README's example: piece 4 closes it.
    assert_eq!(run.closing[0].0, 3);
    assert_eq!(run.labels[3], "4");
    assert!(kept.notes[0].contains("piece"), "{}", kept.notes[0]);
    assert!(run.run.as_ref().unwrap().pieces().len() >= 7);
    let steps = run.steps.as_ref().unwrap();
    assert!(steps.iter().any(|step| step.title == "Cut piece 4"));
    assert!(steps.iter().all(|step| !step.large.is_empty()));
}

#[test]
fn what_is_missing_is_told() {
    let path = Path::new("nowhere.json");
    let text = b"{ \"job\": \"none.json\", \"before\": {} }";
    let problems = close_gap(path, text, &Control::default()).unwrap_err();
    assert_eq!(problems[0].path, "job");
}

#[test]
fn widths_show_the_piece_by_itself_with_its_numbers() {
    let file = json!({ "units": "mm", "tube": { "od": 60, "wall": 2 },
        "gap": { "widths": [100.0, 106.0, 100.0, 94.0] } });
    let kept = closed(Path::new("gap.json"), file.to_string().as_bytes());
    let run = &kept.runs[0];
    assert!(run.run.is_none() && run.loose.len() == 1);
    let (low, high) = run.loose[0].bounds();
    // On its start, its axis up: as wide as the tube, as tall as its long side.
    assert!((high.x - low.x - 60.0).abs() < 0.2, "{low} {high}");
    assert!((high.z - low.z - 106.0).abs() < 1.0, "{low} {high}");
    assert!(run.loose[0].numbers[0].1.contains("10"));
    let Goods::Closed(goods) = &kept.goods else {
        panic!("files to export")
    };
    assert!(goods.rebuilt.is_none() && goods.sources == [PathBuf::from("gap.json")]);
}

#[test]
fn ends_without_a_plan_stand_beside_what_closes_the_gap() {
    let (_, bytes) = stack_built();
    let mut file: Value = serde_json::from_slice(&bytes).unwrap();
    let own = file.as_object_mut().unwrap();
    own.remove("job");
    own.remove("run");
    own.insert("units".to_owned(), json!("in"));
    own.insert(
        "tube".to_owned(),
        json!({ "od": 2.5, "wall": 0.065, "material": "304" }),
    );
    for side in ["before", "after"] {
        file[side]["cut"] = json!("miter");
    }
    let kept = closed(Path::new("ends.json"), file.to_string().as_bytes());
    let loose = &kept.runs[0].loose;
    assert_eq!(
        loose.iter().filter(|one| !one.is_new).count(),
        2,
        "both ends"
    );
    assert!(loose.iter().any(|one| one.is_new));
    // What closes it stands between the two ends.
    let middle = |name: &str| loose.iter().find(|one| one.name == name).unwrap().middle;
    let (before, after) = (middle("end before"), middle("end after"));
    for piece in loose.iter().filter(|one| one.is_new) {
        let apart = (after - before).norm();
        assert!((piece.middle - before).norm() < apart, "{}", piece.name);
        assert!((piece.middle - after).norm() < apart, "{}", piece.name);
    }
}

/// The example with the end after the gap 4 in off to one side.
fn far_off() -> Value {
    let (_, bytes) = stack_built();
    let mut file: Value = serde_json::from_slice(&bytes).unwrap();
    for list in ["rim", "outside"] {
        for point in file["after"]["measured"][list].as_array_mut().unwrap() {
            let y = point[1].as_f64().unwrap();
            point[1] = json!(y - 4.0);
        }
    }
    file
}

fn between(kept: &Kept) -> &BetweenEnds {
    match &kept.goods {
        Goods::Closed(closed) => match &closed.closing.found {
            Found::Ends(between) => between,
            Found::Widths { .. } => panic!("two ends"),
        },
        _ => panic!("files to export"),
    }
}

#[test]
fn several_pieces_are_shown_each_by_its_name() {
    let kept = closed(&stack_built().0, far_off().to_string().as_bytes());
    let (run, between) = (&kept.runs[0], between(&kept));
    assert_eq!(between.advice, Advice::Several, "{}", kept.notes[0]);
    let pieces = between.several.as_ref().unwrap().as_ref().unwrap().pieces();
    let cuts = run.steps.as_ref().unwrap().iter();
    let cuts = cuts.filter(|step| step.phase == Phase::Cut && step.title.starts_with("Cut piece"));
    assert_eq!(cuts.count(), pieces.len());
    match &run.run {
        Some(_) => {
            assert_eq!(run.closing.len(), pieces.len());
            assert_eq!(run.labels[run.closing[0].0], "4a");
            assert_eq!(run.labels.last().unwrap(), "7");
        }
        None => {
            let new = run.loose.iter().filter(|one| one.is_new);
            assert_eq!(new.count(), pieces.len());
        }
    }
}

#[test]
fn joints_to_turn_are_named_where_they_stand() {
    let mut file = far_off();
    file["tacked"] = json!([1, 2, 5, 6]);
    let kept = closed(&stack_built().0, file.to_string().as_bytes());
    let (run, between) = (&kept.runs[0], between(&kept));
    assert_eq!(between.advice, Advice::Reclock, "{}", kept.notes[0]);
    let turns = &between.reclock.as_ref().unwrap().turns;
    let steps = run.steps.as_ref().unwrap();
    assert_eq!(run.labeled.len(), turns.len());
    for (step, turn) in steps.iter().zip(turns) {
        assert_eq!(step.title, format!("Turn joint {}", turn.joint.joint));
    }
    assert!(steps[turns.len()].title.starts_with("Measure"));
    assert!(run.run.is_some() || run.loose.len() == 3);
}
