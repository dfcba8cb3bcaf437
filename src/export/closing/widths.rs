//! The piece between widths that were measured with a tape.

use super::piece::{ordinates, sizes};
use super::saw::at_the_saw;
use crate::closure::Widths;
use crate::plan::Closing;
use crate::units::Length;
use std::fmt::Write;

pub(super) fn of_widths(
    out: &mut String,
    closing: &Closing,
    widths: &Widths,
    opens: Length,
    gap: &crate::closure::Gap,
) -> std::fmt::Result {
    let style = closing.style;
    writeln!(
        out,
        "\nTHE GAP, {} wide at the axis{}",
        style.decimal(gap.width),
        if opens == Length::ZERO {
            String::new()
        } else {
            let by = style.decimal(opens);
            format!(" once all is welded, which opens it by {by}; as measured:")
        }
    )?;
    for (i, (station, left)) in widths.stations.iter().zip(&gap.left).enumerate() {
        let out_of_fit = gap.slips.iter().any(|slip| slip.stations == [i]);
        writeln!(
            out,
            "  station {:>2} at {:>8}: {:>10}, {:>9} off what fits all best{}",
            i + 1,
            style.clock(station.clock),
            style.decimal(station.width),
            style.decimal(*left),
            if out_of_fit { "; LEFT OUT" } else { "" },
        )?;
    }
    writeln!(
        out,
        "  widths good to {}; the fitted width to {} at its worst side, two of three within",
        style.decimal(widths.good_to),
        style.decimal(gap.fit_good_to),
    )?;
    writeln!(
        out,
        "  Widths do not show whether the two rims stand beside each other: hold straight tube of this size\n  against the gap, all round. Where a rim steps by more than {}, measure both rims instead.",
        style.decimal(closing.fit_up.high_low)
    )?;
    sizes(out, "THE PIECE", &gap.sleeve, style)?;
    writeln!(
        out,
        "  station 1 is at {}",
        style.clock(widths.stations[0].clock)
    )?;
    at_the_saw(out, closing, &gap.sleeve)?;
    ordinates(out, &gap.sleeve, style)
}
