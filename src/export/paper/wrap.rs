//! [`Wrap`]: what one wrap pattern says.

use crate::export::flat::Layer;
use crate::tube::{Curve, Edge, Outline};
use crate::units::{Angle, Length};

/// One wrap pattern with whatever it takes to line it up on a tube.
#[derive(Clone, Debug)]
pub(in crate::export) struct Wrap {
    /// Id of the outline's path; inner lines have `id-inner-1` and so on.
    pub id: String,
    /// The piece's number or numbers, to be written large; nothing where empty.
    pub number: String,
    /// What it is for.
    pub title: String,
    /// Its sizes, and how to use it.
    pub facts: String,
    /// The pattern itself.
    pub outline: Outline,
    /// What is upstream, say "from joint 3"; nothing where empty.
    pub start_label: String,
    /// What is downstream; an arrow is set before it.
    pub end_label: String,
    /// Lines to lay on marks of the tube.
    pub marks: Vec<Mark>,
    /// Clock where the degree scales begin.
    pub ticks_from: Angle,
    /// Lines to prick through the paper.
    pub inner: Vec<Inner>,
    /// Whether a strip past the last clock goes under the first.
    pub tab: bool,
    /// Patterns of its shaped ends alone, which say how far apart they go: for paper that
    /// is too small for all of it. None where there is nothing to leave out.
    pub ends: Vec<Wrap>,
}

/// A line along the tube.
#[derive(Clone, Debug)]
pub(in crate::export) struct Mark {
    pub clock: Angle,
    pub at: MarkAt,
    /// The tube's own seam, or a mark like any other.
    pub layer: Layer,
    pub label: String,
}

impl Mark {
    /// A mark that is no seam.
    pub(in crate::export) fn new(clock: Angle, at: MarkAt, label: impl Into<String>) -> Self {
        Self {
            clock,
            at,
            layer: Layer::Marks,
            label: label.into(),
        }
    }

    /// Where the tube's own seam goes.
    pub(in crate::export) fn seam(clock: Angle, label: impl Into<String>) -> Self {
        Self {
            layer: Layer::Seam,
            ..Self::new(clock, MarkAt::Through, label)
        }
    }
}

/// Where a mark shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::export) enum MarkAt {
    /// An arrow to the start's edge.
    Start,
    /// An arrow to the end's edge.
    End,
    /// A broken line from edge to edge.
    Through,
}

/// A second line on the pattern: where to cut an end again, say, with an edge of the
/// paper flush with its rim.
#[derive(Clone, Debug)]
pub(in crate::export) struct Inner {
    /// Its shape.
    pub edge: Edge,
    /// Height of its center.
    pub level: Length,
    /// Which way the edge's extension makes a tube longer.
    pub faces: Faces,
    pub label: String,
}

/// The end of a tube that an edge is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::export) enum Faces {
    /// A start: longer is lower.
    Upstream,
    /// An end: longer is higher.
    Downstream,
}

impl Inner {
    /// Its height at `clock` on the tube of `outline`.
    pub(super) fn at(&self, outline: &Outline, clock: Angle) -> Length {
        let radius = outline.sleeve().tube().radius();
        let extension = self.edge.extension(radius, clock);
        match self.faces {
            Faces::Upstream => self.level - extension,
            Faces::Downstream => self.level + extension,
        }
    }

    pub(super) fn curve(&self, outline: &Outline) -> Vec<Curve> {
        match self.faces {
            Faces::Upstream => outline.start_curve_of(self.level, &self.edge),
            Faces::Downstream => outline.end_curve_of(self.level, &self.edge),
        }
    }
}
