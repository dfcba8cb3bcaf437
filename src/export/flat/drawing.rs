//! [`Drawing`]: lines, curves, circles and words at true size, for any format.

use super::area::Area;
use super::layer::Layer;
use super::path::Path;
use super::pen::Pen;
use super::text::Text;
use crate::tube::FlatPoint;

/// A flat drawing in millimeters, x to the right and y upward.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Drawing {
    items: Vec<Item>,
}

/// One thing drawn.
#[derive(Clone, Debug, PartialEq)]
pub struct Item {
    /// What it is for.
    pub layer: Layer,
    /// A name for programs that look for it.
    pub id: Option<String>,
    /// What it is.
    pub shape: Shape,
}

/// What is drawn.
#[derive(Clone, Debug, PartialEq)]
pub enum Shape {
    /// A straight line.
    Line([FlatPoint; 2], Pen),
    /// Lines and curves.
    Path(Path, Pen),
    /// A filled dot: center and radius.
    Dot(FlatPoint, f64),
    /// Words.
    Text(Text),
}

impl Shape {
    /// A rectangle that holds it, lines taken without their width.
    pub fn area(&self) -> Area {
        match self {
            Self::Line(ends, _) => Area::around(*ends),
            Self::Path(path, _) => path.area(),
            Self::Dot(center, radius) => Area::around([*center]).grown(*radius),
            Self::Text(text) => text.area(),
        }
    }

    /// Moved.
    pub fn moved(&self, by: FlatPoint) -> Self {
        let go = |[x, y]: FlatPoint| [x + by[0], y + by[1]];
        match self {
            Self::Line(ends, pen) => Self::Line(ends.map(go), *pen),
            Self::Path(path, pen) => Self::Path(path.moved(by), *pen),
            Self::Dot(center, radius) => Self::Dot(go(*center), *radius),
            Self::Text(text) => Self::Text(Text {
                at: go(text.at),
                ..text.clone()
            }),
        }
    }
}

impl Drawing {
    /// What is on it, in the order in which it was drawn.
    pub fn items(&self) -> &[Item] {
        &self.items
    }

    /// The words on it.
    pub fn texts(&self) -> impl Iterator<Item = &Text> {
        self.items.iter().filter_map(|item| match &item.shape {
            Shape::Text(text) => Some(text),
            _ => None,
        })
    }

    /// Adds anything.
    pub fn add(&mut self, layer: Layer, shape: Shape) {
        let id = None;
        self.items.push(Item { layer, id, shape });
    }

    /// Adds a straight line.
    pub fn line(&mut self, layer: Layer, pen: Pen, ends: [FlatPoint; 2]) {
        self.add(layer, Shape::Line(ends, pen));
    }

    /// Adds lines and curves.
    pub fn path(&mut self, layer: Layer, pen: Pen, path: Path) {
        self.add(layer, Shape::Path(path, pen));
    }

    /// Adds lines and curves that programs look for.
    pub fn named_path(&mut self, layer: Layer, pen: Pen, id: impl Into<String>, path: Path) {
        let (id, shape) = (Some(id.into()), Shape::Path(path, pen));
        self.items.push(Item { layer, id, shape });
    }

    /// Adds a filled dot.
    pub fn dot(&mut self, layer: Layer, center: FlatPoint, radius: f64) {
        self.add(layer, Shape::Dot(center, radius));
    }

    /// Adds words.
    pub fn text(&mut self, text: Text) {
        self.add(Layer::Text, Shape::Text(text));
    }

    /// Adds all of another drawing, moved.
    pub fn place(&mut self, other: &Self, by: FlatPoint) {
        let moved = other.items.iter().map(|item| Item {
            shape: item.shape.moved(by),
            ..item.clone()
        });
        self.items.extend(moved);
    }

    /// The least rectangle that holds everything, lines taken without their width and
    /// curves with their controls.
    pub fn area(&self) -> Area {
        let areas = self.items.iter().map(|item| item.shape.area());
        areas.fold(Area::NONE, |all, area| all.with(&area))
    }

    /// Adds what is already an item.
    pub(super) fn push(&mut self, item: Item) {
        self.items.push(item);
    }
}
