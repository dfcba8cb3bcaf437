//! Pictures of runs for paper, from their exact geometry: shaded, hidden parts hidden, with
//! numbers, ports, axes and main sizes.
//!
//! A run is taken apart into bodies between two planes ([`Body`]), which are convex; where
//! they are in the picture, their outlines and which hides which are exact
//! ([`Painting`]). Each is then a few paths, so that a picture is small and sharp at any
//! size. Everything is asked for and given in mm of the printed page ([`Look`]).

mod area;
mod arrow;
mod bodies;
mod body;
mod canvas;
mod convex;
mod curve;
mod dimension;
mod flow;
mod gaze;
mod ink;
mod isometric;
mod label;
mod letters;
mod look;
mod numbers;
mod order;
mod painting;
mod plate;
mod ring;
mod room;
mod shade;
mod three_views;
mod triad;

pub use body::{Body, End, EndKind};
pub use convex::Convex;
pub use curve::{Curve, Step};
pub use gaze::{Gaze, Offset, Spot};
pub use isometric::isometric;
pub use look::{Look, Picture, Shown};
pub use painting::Painting;
pub use ring::Ring;
pub use three_views::three_views;

use area::Area;
use body::{Cut, Owner};
use canvas::Canvas;
use ink::Scale;
use plate::Plate;
use room::Room;
