use super::*;
use crate::state::{Field, sections};
use std::fs;

fn with(text: &str) -> (tempfile::TempDir, Session) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("job.json");
    fs::write(&path, text).unwrap();
    let mut session = Session::default();
    session.open(&path);
    session.wait();
    (folder, session)
}

fn stack() -> (tempfile::TempDir, Session) {
    with(include_str!("../../../../examples/stack.json"))
}

fn field(session: &Session, label: &str) -> Field {
    let value = session.document.as_ref().unwrap().value();
    let sections = sections(&value, session.job.as_ref());
    let mut fields = sections.into_iter().flat_map(|section| section.fields);
    fields.find(|field| field.label == label).unwrap()
}

#[test]
fn an_edit_plans_again_and_undo_brings_the_run_back() {
    let (_folder, mut session) = stack();
    let before = session.shown.run(0).unwrap().clone();
    let clr = field(&session, "CLR");
    assert!(session.commit(&clr, "5 1/4 in"));
    assert!(session.is_stale);
    session.wait();
    assert!(!session.is_stale && session.problems.is_empty());
    assert_ne!(session.shown.run(0).unwrap(), &before);
    session.undo();
    session.wait();
    assert_eq!(session.shown.run(0).unwrap(), &before);
    session.redo();
    session.wait();
    assert_ne!(session.shown.run(0).unwrap(), &before);
}

#[test]
fn errors_stand_at_their_field_and_the_run_stays() {
    let (_folder, mut session) = stack();
    let clr = field(&session, "CLR");
    session.commit(&clr, "a lot");
    assert_eq!(session.problems_at(&clr.place).count(), 1);
    assert!(session.is_stale && session.shown.run(0).is_some());
    // One that the solver refuses has its place in the file too.
    session.commit(&clr, "");
    let between = field(&session, "most bends");
    session.commit(&between, "1");
    session.wait();
    assert!(!session.problems.is_empty() && session.is_stale);
    assert!(
        session.shown.run(0).is_some(),
        "what was there is still shown"
    );
    session.commit(&between, "");
    session.wait();
    assert!(session.problems.is_empty() && !session.is_stale);
}

fn export(session: &mut Session, folder: &Path) {
    let wish = Wish {
        folder: folder.display().to_string(),
        ..Wish::default()
    };
    session.export(wish, false);
    assert!(session.is_exporting());
    session.wait();
}

#[test]
fn what_is_wrong_with_an_export_is_told_in_place_and_nothing_is_written() {
    let (folder, mut session) = stack();
    let out = folder.path().join("out");
    let mut wish = Wish {
        folder: out.display().to_string(),
        ..Wish::default()
    };
    wish.choices.paper = "thick".to_owned();
    wish.choices.template = "mine.typ".to_owned();
    fs::write(folder.path().join("mine.typ"), "#let x = (").unwrap();
    session.export(wish.clone(), false);
    session.wait();
    let Some(Ask::Export(asked)) = session.ask.take() else {
        panic!("asks again")
    };
    assert_eq!(asked.problems[0].path, "paper");
    wish.choices.paper = "0.1".to_owned();
    session.export(wish.clone(), false);
    session.wait();
    let Some(Ask::Export(asked)) = session.ask.take() else {
        panic!("asks again")
    };
    assert_eq!(asked.problems[0].path, "template");
    assert!(!out.exists());
    // The job itself is never written over, and a canceled export writes nothing.
    wish.choices.template.clear();
    session.export(wish.clone(), false);
    session.cancel_export();
    session.wait();
    assert!(
        !out.exists()
            || session
                .notice
                .as_ref()
                .is_some_and(|n| n.text.contains("Wrote"))
    );
}

#[test]
fn a_plan_s_packet_and_a_closing_s_files_are_exported() {
    let (folder, mut session) = stack();
    export(&mut session, &folder.path().join("all"));
    session.open(&folder.path().join("all/plan.json"));
    session.wait();
    let again = folder.path().join("again");
    export(&mut session, &again);
    assert_eq!(
        fs::read(again.join("packet.pdf")).unwrap(),
        fs::read(folder.path().join("all/packet.pdf")).unwrap(),
        "the plan's file makes the same packet"
    );
    for name in ["stack.json", "stack-built.json"] {
        let from = Path::new(env!("CARGO_MANIFEST_DIR")).join("../examples");
        fs::copy(from.join(name), folder.path().join(name)).unwrap();
    }
    session.open(&folder.path().join("stack-built.json"));
    session.wait();
    let out = folder.path().join("closing");
    export(&mut session, &out);
    for name in [
        "closure.txt",
        "closure.json",
        "closure.svg",
        "closure.dxf",
        "closure.stl",
        "closure-in-place.stl",
        "plan.json",
    ] {
        assert!(out.join(name).exists(), "{name}: {:?}", session.ask);
    }
}

#[test]
fn a_way_is_taken_at_once_and_exported() {
    let (folder, mut session) = with(include_str!("../../../../examples/bay.json"));
    assert!(session.found_ways().len() > 1);
    session.take_way(1);
    assert_eq!(session.way(), 1);
    let taken = session.found_ways()[1].0.run.clone();
    assert_eq!(session.shown.run(0), Some(&taken));
    let out = folder.path().join("out");
    export(&mut session, &out);
    let text = fs::read(out.join("plan.json")).unwrap();
    let read = runwright::plan::read_plan(&text).unwrap();
    assert_eq!(read.runs[0].run.pieces().len(), taken.pieces().len());
    for name in [
        "sheet.txt",
        "packet.pdf",
        "pieces.csv",
        "patterns.svg",
        "run.svg",
        "run.stl",
    ] {
        assert!(out.join(name).exists(), "{name}");
    }
    export(&mut session, &out);
    let Some(Ask::Export(wish)) = session.ask.take() else {
        panic!("never over other files unasked")
    };
    assert!(wish.taken.contains(&"plan.json".to_owned()), "{wish:?}");
    session.take_way(0);
    session.wait();
    assert_eq!(session.way(), 0);
    assert!(session.nearness.as_ref().unwrap().tightest().is_some());
}

#[test]
fn unsaved_changes_are_asked_about() {
    let (folder, mut session) = stack();
    assert!(session.may_close());
    let wall = field(&session, "wall");
    session.commit(&wall, "0.083");
    assert!(!session.may_close());
    assert_eq!(session.ask, Some(Ask::Unsaved(None)));
    session.open(&folder.path().join("other.json"));
    assert!(matches!(session.ask, Some(Ask::Unsaved(Some(_)))));
    session.save(false);
    assert!(session.may_close() && session.ask.is_none());
    let path = folder.path().join("job.json");
    fs::write(&path, "{}").unwrap();
    session.commit(&wall, "0.065");
    session.save(false);
    assert_eq!(session.ask, Some(Ask::Changed));
    assert_eq!(fs::read_to_string(&path).unwrap(), "{}");
}

#[test]
fn bad_files_are_told_and_leave_all_as_it_is() {
    let (folder, mut session) = stack();
    let bad = folder.path().join("bad.json");
    fs::write(&bad, "{\"format\": \"x\"}").unwrap();
    for path in [
        bad,
        folder.path().to_path_buf(),
        folder.path().join("none.json"),
    ] {
        session.notice = None;
        session.open(&path);
        session.wait();
        assert!(session.notice.as_ref().is_some_and(|notice| notice.is_bad));
        assert!(session.shown.run(0).is_some());
    }
    let broken = folder.path().join("broken.json");
    for bytes in [
        b"{".as_slice(),
        b"",
        b"\xff\xff",
        b"[]",
        b"{\"units\": 3, \"runs\": {}}",
    ] {
        fs::write(&broken, bytes).unwrap();
        session.open(&broken);
        session.wait();
        assert!(!session.problems.is_empty());
    }
}

#[test]
fn a_plan_and_a_build_are_shown() {
    let (folder, mut session) = stack();
    let steps = session.steps().to_vec();
    export(&mut session, &folder.path().join("out"));
    session.open(&folder.path().join("out/plan.json"));
    session.wait();
    assert!(session.document.is_none() && session.shown.run(0).is_some());
    let titles =
        |steps: &[Step]| -> Vec<String> { steps.iter().map(|step| step.title.clone()).collect() };
    assert_eq!(titles(session.steps()), titles(&steps));
    session.open(&Path::new(env!("CARGO_MANIFEST_DIR")).join("../examples/stack-built.json"));
    session.wait();
    assert_eq!(session.shown.closing(0).unwrap().0, 4);
}

#[test]
fn steps_go_forth_and_back_and_no_farther() {
    let (_folder, mut session) = stack();
    session.go(1);
    assert_eq!(session.step, None);
    session.step = Some(0);
    session.go(-1);
    assert_eq!(session.step, Some(0));
    session.go(isize::MAX);
    assert_eq!(session.step, Some(session.steps().len() - 1));
}

#[test]
fn a_dragged_corner_goes_into_the_job_and_can_be_undone() {
    let (_folder, mut session) = stack();
    let text = session.document.as_ref().unwrap().text().to_owned();
    let corner = session.corners()[0];
    let (_, out) = corner.on.unwrap();
    session.drag_corner(corner, corner.at + out.into_inner() * 20.0);
    assert!(session.drag.is_some());
    session.drop_corner();
    session.wait();
    assert!(session.problems.is_empty(), "{:?}", session.problems);
    assert!(
        session
            .document
            .as_ref()
            .unwrap()
            .text()
            .contains("dragged 1")
    );
    // Dragged again, the brackets are replaced.
    let corner = session.corners()[0];
    let (_, out) = corner.on.unwrap();
    session.drag_corner(corner, corner.at + out.into_inner() * 10.0);
    session.drop_corner();
    session.wait();
    assert_eq!(
        session
            .document
            .as_ref()
            .unwrap()
            .text()
            .matches("dragged 1")
            .count(),
        1
    );
    session.undo();
    session.undo();
    assert_eq!(session.document.as_ref().unwrap().text(), text);
}

#[test]
fn a_new_job_is_begun_planned_and_saved_under_a_name() {
    for unit in [LengthUnit::In, LengthUnit::Mm] {
        let folder = tempfile::tempdir().unwrap();
        let mut session = Session::default();
        session.begin(unit);
        session.wait();
        assert!(session.problems.is_empty(), "{:?}", session.problems);
        assert!(session.shown.run(0).is_some());
        assert!(session.document.as_ref().unwrap().is_dirty() && !session.may_close());
        session.save(false);
        assert!(
            matches!(session.ask, Some(Ask::SaveAs(..))),
            "asks for a name"
        );
        session.save_as(&folder.path().join("mine.json"));
        assert!(!session.document.as_ref().unwrap().is_dirty());
        let text = fs::read_to_string(folder.path().join("mine.json")).unwrap();
        assert!(text.contains(unit.symbol()), "{text}");
    }
}
