//! Words for how a piece is turned on a port, and for the sides that it is turned by.

use crate::geometry::{FoundSide, Level};
use crate::shop::{Fixed, PortMark, TackUp};
use crate::units::{Angle, Style, way_text};

/// `its line 123.45° (4 1/2 in round) clockwise from the port's top`.
pub fn port_line(mark: &PortMark, style: Style) -> String {
    let side = match mark.from {
        FoundSide::Top => "top",
        FoundSide::Ahead => "side ahead",
    };
    if mark.clock == Angle::ZERO {
        return format!("its line at the port's {side}");
    }
    format!(
        "its line {} ({} round) clockwise from the port's {side}",
        style.clock(mark.clock),
        style.length(mark.round)
    )
}

/// What the sides of ports are that a run's pieces are turned by.
pub fn port_sides(tack_up: &TackUp) -> Vec<String> {
    let Level { up, ahead } = &tack_up.level;
    let sides = [
        (
            FoundSide::Top,
            format!(
                "top is the highest point of the rim (up is {})",
                way_text(up.into_inner())
            ),
        ),
        (
            FoundSide::Ahead,
            format!(
                "ahead is the side toward {}, where a tube stands nearly plumb",
                way_text(ahead.into_inner())
            ),
        ),
    ];
    let is_used = |side: FoundSide| {
        let mut ports = tack_up.steps.iter().filter_map(|step| step.port);
        ports.any(|port| port.from == side)
    };
    let used = sides.into_iter().filter(|(side, _)| is_used(*side));
    used.map(|(_, words)| words).collect()
}

/// Whether tapes are held at marks that turn with the first piece.
pub fn marks_turn(tack_up: &TackUp) -> bool {
    let mut tapes = tack_up.steps.iter().flat_map(|step| &step.tapes);
    tapes.any(|tape| matches!(tape.from, Fixed::Rim { .. }))
}
