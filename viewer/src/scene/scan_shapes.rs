//! [`ScanShapes`]: scans as shapes, made beside the window: a million triangles take most of
//! a second.

use super::Shape;
use super::levels::Levels;
use runwright::geometry::Point;
use runwright::scan::Surface;
use std::sync::Arc;
use std::sync::mpsc::{Receiver, TryRecvError, channel};

/// Scans that are shapes, and those that become some.
#[derive(Default)]
pub struct ScanShapes {
    known: Vec<(Key, Arc<Levels>)>,
    awaited: Vec<(Key, Receiver<Levels>)>,
}

/// A scan, and what its shapes' coordinates are counted from.
#[derive(Clone)]
struct Key {
    surface: Arc<Surface>,
    origin: Point,
}

impl Key {
    fn is(&self, surface: &Arc<Surface>, origin: &Point) -> bool {
        Arc::ptr_eq(&self.surface, surface) && self.origin == *origin
    }
}

impl ScanShapes {
    /// A scan's shapes; begins to make them where there are none yet.
    pub fn of(&mut self, surface: &Arc<Surface>, origin: &Point) -> Option<Arc<Levels>> {
        let known = self.known.iter().find(|(key, _)| key.is(surface, origin));
        if let Some((_, levels)) = known {
            return Some(Arc::clone(levels));
        }
        if self.awaited.iter().any(|(key, _)| key.is(surface, origin)) {
            return None;
        }
        let key = Key {
            surface: Arc::clone(surface),
            origin: *origin,
        };
        let (sender, receiver) = channel();
        let own = key.clone();
        let make = move || {
            let levels = Levels::new(Shape::of_scan(own.surface.mesh(), &own.origin));
            // Nobody is left to tell when the window has closed.
            let _ = sender.send(levels);
        };
        let spawned = std::thread::Builder::new()
            .name("scan".to_owned())
            .spawn(make);
        if spawned.is_ok() {
            self.awaited.push((key, receiver));
        }
        None
    }

    /// Lets go of the shapes of all other scans.
    pub fn keep(&mut self, used: &[Arc<Surface>]) {
        let is_used = |key: &Key| used.iter().any(|own| Arc::ptr_eq(own, &key.surface));
        self.known.retain(|(key, _)| is_used(key));
        self.awaited.retain(|(key, _)| is_used(key));
    }

    /// Whether any are being made.
    pub fn is_waiting(&self) -> bool {
        !self.awaited.is_empty()
    }

    /// Takes in those that are made; whether there were any.
    pub fn poll(&mut self) -> bool {
        let before = self.awaited.len();
        let mut awaited = Vec::new();
        for (key, receiver) in std::mem::take(&mut self.awaited) {
            match receiver.try_recv() {
                Ok(levels) => self.known.push((key, Arc::new(levels))),
                Err(TryRecvError::Empty) => awaited.push((key, receiver)),
                Err(TryRecvError::Disconnected) => {}
            }
        }
        self.awaited = awaited;
        self.awaited.len() < before
    }

    /// Waits for all of them.
    pub fn wait(&mut self) {
        for (key, receiver) in std::mem::take(&mut self.awaited) {
            if let Ok(levels) = receiver.recv() {
                self.known.push((key, Arc::new(levels)));
            }
        }
    }
}
