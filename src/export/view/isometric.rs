//! The runs in one isometric view.

use super::ink::ink;
use super::numbers::Numbers;
use super::{Area, Gaze, Look, Offset, Painting, Picture, Plate, Scale, Shown, Spot};
use super::{flow::flow, triad};
use crate::run::Run;

/// Room round the runs for arrows, names and numbers, in text heights.
const ZONE: f64 = 6.0;

/// The runs seen from the corner (1, −1, 1), shaded, numbered, with the ports named and the
/// job's axes.
pub fn isometric(runs: &[Shown<'_>], look: &Look) -> Picture {
    let mut plate = Plate::new(look, [2.0 * ZONE; 2]);
    let all: Vec<&Run> = runs.iter().map(|shown| shown.run).collect();
    let painting = Painting::new(&all, Gaze::isometric());
    let Some((low, high)) = painting.bounds() else {
        return plate.finish();
    };
    let zone = ZONE * plate.text;
    let page = *plate.room.page();
    let seen = Area { low, high };
    let factor = ((page.width() - 2.0 * zone) / seen.width())
        .min((page.height() - 2.0 * zone) / seen.height());
    let scale = Scale {
        factor,
        origin: page.low.coords + Offset::new(zone, zone) - low.coords * factor,
    };
    ink(&mut plate, &painting, &scale);
    let [low, high]: [Spot; 2] = [low, high].map(|spot| scale.place(&spot));
    triad::triad(&mut plate, painting.gaze(), &Area { low, high }.grown(zone));
    if look.ports {
        flow(&mut plate, &painting, &scale, runs);
    }
    Numbers {
        painting: &painting,
        scale: &scale,
        runs,
        hidden: true,
    }
    .put(&mut plate, look);
    plate.finish()
}
