//! The window, until it is closed.

use crate::arguments::Arguments;
use crate::bench::Bench;
use crate::state::{Document, Session};
use kiss3d::event::{Action, Modifiers, WindowEvent};
use kiss3d::window::Window;
use serde_json::json;
use std::path::Path;
use std::time::{Duration, Instant};

/// How long a picture may stay while nothing happens: so that an idle window leaves the
/// machine alone.
const IDLE: Duration = Duration::from_millis(40);
/// How long after something happened pictures follow each other as fast as they can.
const LIVELY: Duration = Duration::from_millis(600);

/// Opens a window on what `arguments` say.
pub async fn run(arguments: &Arguments) {
    let (width, height) = arguments.size;
    let mut window = Window::new_with_size("Runwright bench", width, height).await;
    let mut session = Session::default();
    if let Some(file) = &arguments.file {
        session.open(file);
    }
    let mut bench = Bench::new(&mut window, session, arguments.bare);
    let mut teller = Teller::default();
    let mut happened = Instant::now();
    loop {
        if !bench.draw(&mut window).await {
            return;
        }
        if bench.session.poll() || look_after(&mut bench, &mut window) || bench.session.is_working()
        {
            happened = Instant::now();
        }
        if bench.session.wants_close {
            return;
        }
        if let Some(file) = &arguments.tell {
            teller.tell(&bench, file);
        }
        if happened.elapsed() > LIVELY {
            std::thread::sleep(IDLE);
        }
    }
}

/// Files that were dropped, and closing; whether anything happened at all.
fn look_after(bench: &mut Bench, window: &mut Window) -> bool {
    let mut is_lively = false;
    let desk = &mut bench.desk;
    let session = &mut bench.session;
    for mut event in window.events().iter() {
        is_lively = true;
        if let WindowEvent::Key(key, action, modifiers) = event.value {
            desk.is_command = modifiers.intersects(Modifiers::Control | Modifiers::Super);
            if action == Action::Press && desk.is_command {
                desk.shortcuts.push(key);
            }
        }
        if matches!(event.value, WindowEvent::Char(_)) && desk.is_command {
            // A shortcut's letter is no text.
            event.inhibited = true;
        }
        if event.value == WindowEvent::Close && !session.may_close() {
            // Ask first: changes are not saved.
            event.inhibited = true;
        }
    }
    if let Some(file) = window.dropped_files().first() {
        bench.session.open(file);
        is_lively = true;
    }
    is_lively
}

/// Tells a test what is shown, and where what can be pressed stands.
#[derive(Default)]
struct Teller {
    /// Pictures drawn.
    count: u64,
}

impl Teller {
    fn tell(&mut self, bench: &Bench, file: &Path) {
        let (session, desk) = (&bench.session, &bench.desk);
        let run = session.shown.run(session.run);
        self.count += 1;
        let text = json!({
            "picture": self.count,
            "file": session.file_name(),
            "busy": session.is_busy(),
            "stale": session.is_stale,
            "dirty": session.document.as_ref().is_some_and(Document::is_dirty),
            "undoes": session.document.as_ref().and_then(Document::undoes),
            "problems": session.problems.iter().map(|problem| problem.placed_message()).collect::<Vec<_>>(),
            "notice": session.notice.as_ref().map(|notice| notice.text.clone()),
            "ask": session.ask.as_ref().map(|ask| format!("{ask:?}")),
            "pieces": run.map(|run| run.pieces().len()),
            "length_mm": run.map(|run| run.length().mm()),
            "piece": session.piece.map(|piece| piece + 1),
            "way": session.way() + 1,
            "step": session.step.map(|step| step + 1),
            "title": session.step_at_hand().map(|step| step.title.clone()),
            "exporting": session.is_exporting(),
            "measured": session.view.measure.distances().map(|(_, _, length)| length.mm()).collect::<Vec<_>>(),
            "heat": session.view.heat,
            "section": session.view.section.is_some(),
            "eye": [session.view.eye.yaw, session.view.eye.pitch, session.view.eye.distance],
            "marks": desk.marks,
        })
        .to_string();
        // Whole or not at all: the reader must never see half of it. Where it cannot be
        // written, the reader says that it waits in vain.
        let beside = file.with_extension("part");
        let _ = std::fs::write(&beside, &text).and_then(|()| std::fs::rename(&beside, file));
    }
}
