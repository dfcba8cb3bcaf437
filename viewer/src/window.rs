//! The window, until it is closed.

use crate::arguments::Arguments;
use crate::bench::{Bench, Motion};
use crate::state::{Document, Session};
use kiss3d::event::{Action, Modifiers, WindowEvent};
use kiss3d::window::Window;
use serde_json::json;
use std::path::Path;
use std::time::{Duration, Instant};

/// How long to wait between looks for something that happens, while nothing does.
const IDLE: Duration = Duration::from_millis(12);
/// How long after something happened pictures follow each other as fast as they can: as long
/// as a hint takes to show.
const LIVELY: Duration = Duration::from_millis(700);
/// Pictures that what happened takes until it shows, however long each takes: one takes it
/// in, one acts on it, and two more until panels have found their sizes.
const OWED: u32 = 4;
/// How often it is drawn while only work beside the window goes on.
const WORKING: Duration = Duration::from_millis(120);
/// How often it is drawn when nothing happens at all: no system tells when another window
/// that covered it has gone.
const SELDOM: Duration = Duration::from_secs(5);

/// When the next picture is due.
#[derive(Debug)]
pub struct Due {
    happened: Instant,
    drawn: Instant,
    owed: u32,
}

impl Due {
    /// Something has just happened.
    pub fn new(now: Instant) -> Self {
        Self {
            happened: now,
            drawn: now,
            owed: OWED,
        }
    }

    /// Something happened.
    pub fn touch(&mut self, now: Instant) {
        self.happened = now;
        self.owed = OWED;
    }

    /// Whether to draw now, when `is_working` beside the window.
    pub fn is_due(&self, now: Instant, is_working: bool) -> bool {
        let idle = now.saturating_duration_since(self.happened);
        let old = now.saturating_duration_since(self.drawn);
        self.owed > 0 || idle < LIVELY || old > SELDOM || (is_working && old > WORKING)
    }

    /// It was drawn.
    pub fn draw(&mut self, now: Instant) {
        self.drawn = now;
        self.owed = self.owed.saturating_sub(1);
    }
}

/// Opens a window on what `arguments` say.
pub async fn run(arguments: &Arguments) {
    let (width, height) = arguments.size;
    let mut window = Window::new_with_size("Runwright bench", width, height).await;
    let mut session = Session::default();
    if let Some(file) = &arguments.file {
        session.open(file);
    }
    let mut bench = Bench::new(&mut window, session, arguments.bare);
    bench.motion = Motion::Watched(bench.session.view.eye, Instant::now());
    let mut teller = Teller::default();
    let mut due = Due::new(Instant::now());
    loop {
        if due.is_due(Instant::now(), bench.session.is_working()) {
            due.draw(Instant::now());
            if !bench.draw(&mut window).await {
                return;
            }
            teller.drawn += 1;
        } else {
            std::thread::sleep(IDLE);
            window.canvas_mut().poll_events();
        }
        if bench.session.poll() | look_after(&mut bench, &mut window) | bench.is_settling() {
            due.touch(Instant::now());
        }
        if bench.session.wants_close {
            return;
        }
        if let Some(file) = &arguments.tell {
            teller.tell(&bench, file);
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
    /// Looks for something that happens, with a picture or without.
    count: u64,
    /// Pictures drawn.
    drawn: u64,
}

impl Teller {
    fn tell(&mut self, bench: &Bench, file: &Path) {
        let (session, desk) = (&bench.session, &bench.desk);
        let run = session.shown.run(session.run);
        self.count += 1;
        let text = json!({
            "picture": self.count,
            "drawn": self.drawn,
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_is_drawn_when_something_happens_and_hardly_otherwise() {
        let start = Instant::now();
        let mut due = Due::new(start);
        let mut drawn = 0;
        let mut at = start;
        let mut run = |due: &mut Due, seconds: u64, is_working: bool| {
            drawn = 0;
            let end = at + Duration::from_secs(seconds);
            while at < end {
                if due.is_due(at, is_working) {
                    due.draw(at);
                    drawn += 1;
                }
                at += Duration::from_millis(10);
            }
            (drawn, at)
        };
        let (_, now) = run(&mut due, 1, false);
        let (idle, _) = run(&mut due, 60, false);
        assert!(idle <= 13, "{idle} pictures in an idle minute");
        let (working, _) = run(&mut due, 10, true);
        assert!((70..=90).contains(&working), "{working}");
        due.touch(now + Duration::from_secs(70));
        let (lively, _) = run(&mut due, 1, false);
        assert!(lively >= 60, "{lively}");
    }

    /// Once: a click was not acted on where a picture took longer than pictures follow each
    /// other after it.
    #[test]
    fn what_happened_is_acted_on_however_slow_pictures_are() {
        let mut at = Instant::now();
        let mut due = Due::new(at);
        for _ in 0..OWED {
            assert!(due.is_due(at, false));
            due.draw(at);
            at += Duration::from_secs(2);
        }
        assert!(!due.is_due(at - Duration::from_secs(1), false));
    }
}
