//! Where the tube's weld seam comes to lie.

use super::data::{SeamsData, TableData};
use super::pieces::table;
use crate::shop::{SeamPlan, Seams};
use crate::tube::Tube;
use crate::units::{Angle, Length, Style};

const HOW: &str = "Seam: from the piece's own long side, clockwise looking downstream; by hand, so far round with a tape. Apart: between the seams of the two pieces at the joint after it. Off the inside and outside of bends is common practice, no source.";

/// Of one run, whose `plan` it is; nothing without straight pieces.
pub(super) fn seams(plan: &SeamPlan, tube: &Tube, style: Style) -> Option<SeamsData> {
    let round = |clock: Angle| {
        let length: Length = tube.circumference() * (clock.wrapped() / Angle::FULL);
        style.length(length)
    };
    let rows: Vec<[String; 5]> = plan
        .pieces
        .iter()
        .map(|seam| {
            let joint = plan.joints.iter().find(|joint| joint.joint == seam.number);
            [
                seam.number.to_string(),
                seam.clock
                    .map_or("any".to_owned(), |clock| style.clock(clock)),
                seam.clock.map_or(String::new(), round),
                joint.map_or(String::new(), |joint| style.angle(joint.apart)),
                if seam.turned { "turn end for end" } else { "" }.to_owned(),
            ]
        })
        .collect();
    if rows.is_empty() {
        return None;
    }
    Some(SeamsData {
        rule: rule(plan, style),
        table: if plan.worst.is_some() {
            table(["piece", "seam", "round", "apart", ""], rows)
        } else {
            TableData::default()
        },
        how: HOW.to_owned(),
    })
}

fn rule(plan: &SeamPlan, style: Style) -> String {
    let wish = match plan.seams {
        Seams::Staggered => "neighbors' seams apart from each other",
        Seams::InLine => "neighbors' seams in one line where pieces allow it",
        Seams::Any => "as they come",
    };
    match &plan.worst {
        None => "No miter: the seam may lie anywhere.".to_owned(),
        Some(worst) => format!(
            "Seams keep {} or more off the inside and outside of every bend (least in piece {} at joint {}), {wish}.",
            style.angle(worst.margin),
            worst.piece,
            worst.joint
        ),
    }
}
