//! `clearance.csv`: how near each part comes to each obstacle, for a spreadsheet.

use super::csv_file::{csv_file, thousandths};
use super::{ExportError, OutFile};
use crate::clear::Place;
use crate::geometry::Point;
use crate::units::Length;

const FILE: &str = "clearance.csv";

/// One row: a part and an obstacle.
#[derive(Clone, Debug)]
pub struct ClearanceRow<'a> {
    /// The run's name, or that of the mesh's group.
    pub of: &'a str,
    /// The obstacle's name.
    pub obstacle: &'a str,
    /// The clearance that is asked for.
    pub clearance: Length,
    /// Whether the obstacle is asked about there, or the run's port exempts it.
    pub asked: bool,
    /// Where, and the room.
    pub place: Place,
}

/// The file. `kind` names the first two columns: what holds the parts, and the part.
pub fn clearance_csv(kind: [&str; 2], rows: &[ClearanceRow<'_>]) -> Result<OutFile, ExportError> {
    let [of, number] = kind;
    let header = [
        of,
        number,
        "obstacle",
        "asked",
        "room_mm",
        "clear_mm",
        "clearance_mm",
        "x_mm",
        "y_mm",
        "z_mm",
        "obstacle_x_mm",
        "obstacle_y_mm",
        "obstacle_z_mm",
    ];
    csv_file(FILE, header, rows.iter().map(record))
}

fn record(row: &ClearanceRow<'_>) -> [String; 13] {
    let place = &row.place;
    let coordinates = |point: &Point| <[f64; 3]>::from(*point).map(thousandths);
    let [x, y, z] = coordinates(&place.on_part);
    let [to_x, to_y, to_z] = coordinates(&place.on_obstacle);
    [
        row.of.to_owned(),
        place.number.to_string(),
        row.obstacle.to_owned(),
        if row.asked { "yes" } else { "no" }.to_owned(),
        thousandths(place.room.mm()),
        thousandths(place.clear.mm()),
        thousandths(row.clearance.mm()),
        x,
        y,
        z,
        to_x,
        to_y,
        to_z,
    ]
}
