//! [`Desk`]: what panels remember from picture to picture, beside the session.

use crate::eye::{Pane, Side};
use crate::state::Ask;
use crate::state::{Corner, Session};
use egui::{Context, Key, Rect};
use kiss3d::egui;
use kiss3d::event::Key as Shortcut;
use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::mpsc::{Receiver, channel};

/// What a file chooser is asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Browse {
    /// A file to open.
    Open,
    /// A name to save under.
    SaveAs,
    /// A folder.
    Folder,
}

/// What panels remember.
#[derive(Debug, Default)]
pub struct Desk {
    /// Where things are that can be pressed, by name: for tests that drive the window.
    pub marks: BTreeMap<String, [f32; 4]>,
    /// The corner that the pointer holds.
    pub held: Option<Corner>,
    /// A file chooser that is open.
    chooser: Option<(Browse, Receiver<Option<PathBuf>>)>,
    /// What was pressed that is done once the panels are drawn.
    pub wanted: Option<Wanted>,
    /// Keys that were pressed together with the command key.
    pub shortcuts: Vec<Shortcut>,
    /// What the tools take of the picture's top.
    pub tools: f64,
    /// The place of a section that is to be opened.
    pub opened: Option<String>,
    /// Whether the command key is held.
    pub is_command: bool,
}

/// What is done once the panels are drawn.
#[derive(Clone, Debug, PartialEq)]
pub enum Wanted {
    /// Fit all into the picture.
    Fit,
    /// Look from a side.
    Look(Side),
}

impl Desk {
    pub(super) fn begin(&mut self, _: &Context) {
        self.marks.clear();
    }

    /// Remembers where something is.
    pub fn mark(&mut self, name: impl Into<String>, rect: Rect) {
        self.marks.insert(
            name.into(),
            [rect.left(), rect.top(), rect.width(), rect.height()],
        );
    }

    pub(super) fn pane_of(&self, rect: &Rect) -> Pane {
        Pane {
            x: f64::from(rect.left()),
            y: f64::from(rect.top()),
            width: f64::from(rect.width()),
            height: f64::from(rect.height()),
        }
    }

    /// Opens the system's file chooser, beside the window.
    pub fn browse(&mut self, what: Browse) {
        let (sender, receiver) = channel();
        self.chooser = Some((what, receiver));
        let choose = move || {
            let dialog = rfd::FileDialog::new();
            let path = match what {
                Browse::Open => dialog.add_filter("job, plan, build", &["json"]).pick_file(),
                Browse::SaveAs => dialog.add_filter("job", &["json"]).save_file(),
                Browse::Folder => dialog.pick_folder(),
            };
            // Nobody is left to tell when the window has closed.
            let _ = sender.send(path);
        };
        // macOS shows choosers on the main thread only.
        if cfg!(target_os = "macos") {
            choose();
        } else if std::thread::Builder::new().spawn(choose).is_err() {
            self.chooser = None;
        }
    }

    /// What the chooser was left with.
    pub fn chosen(&mut self) -> Option<(Browse, PathBuf)> {
        let (what, receiver) = self.chooser.as_ref()?;
        let (what, path) = (*what, receiver.try_recv().ok()?);
        self.chooser = None;
        Some((what, path?))
    }

    /// Keys that work all over the window, unless something is typed.
    pub(super) fn keys(&mut self, ctx: &Context, session: &mut Session) {
        let is_typing = ctx.egui_wants_keyboard_input();
        for key in std::mem::take(&mut self.shortcuts) {
            match key {
                Shortcut::S if is_typing && session.ask.is_none() => {
                    // What is being typed belongs to what is saved: end it first.
                    ctx.memory_mut(|memory| memory.stop_text_input());
                    self.shortcuts.push(key);
                }
                Shortcut::S => session.save(false),
                Shortcut::O => session.ask = Some(Ask::Open(String::new())),
                Shortcut::Z if !is_typing => session.undo(),
                Shortcut::Y if !is_typing => session.redo(),
                _ => {}
            }
        }
        if is_typing || session.ask.is_some() {
            return;
        }
        let pressed = |key: Key| ctx.input(|input| input.key_pressed(key));
        if pressed(Key::F) {
            self.wanted = Some(Wanted::Fit);
        }
        if pressed(Key::ArrowRight) || pressed(Key::PageDown) || pressed(Key::Space) {
            session.go(1);
        }
        if pressed(Key::ArrowLeft) || pressed(Key::PageUp) {
            session.go(-1);
        }
        if pressed(Key::H) {
            session.view.heat = !session.view.heat;
        }
        if pressed(Key::Escape) {
            session.piece = None;
            session.view.measure.points.clear();
            session.notice = None;
        }
    }
}
