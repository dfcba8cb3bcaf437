//! What the bench wants to know of a piece and of a way to make a run, as text.

use super::cutting::Cutting;
use runwright::route::Candidate;
use runwright::run::{JointKind, Run};
use runwright::units::{Angle, Style, counted};

/// A piece's numbers, as they are shown.
#[derive(Clone, Debug, PartialEq)]
pub struct PieceNumbers {
    /// From 1, in order of flow.
    pub number: usize,
    /// Whether it is a stock bend, which the saw does not cut from the stick.
    pub is_bend: bool,
    /// Long side.
    pub long: String,
    /// Along the center.
    pub center: String,
    /// Short side.
    pub short: String,
    /// Cut at its start.
    pub start_cut: String,
    /// Cut at its end.
    pub end_cut: String,
    /// From the start's long side to the end's.
    pub clock: String,
    /// How far to push the stick, to a fraction and in decimals; `None` for a stock bend.
    pub feed: Option<[String; 2]>,
    /// How far to turn the stick before the cut.
    pub rotate: Option<String>,
    /// The saw's setting.
    pub angle: Option<String>,
    /// What the joint after it is.
    pub joint: String,
}

impl PieceNumbers {
    /// Of every piece of the run at `index`, in order; `cutting` says how the saw cuts them.
    pub fn of_run(run: &Run, index: usize, cutting: Option<&Cutting>, style: Style) -> Vec<Self> {
        let pieces = run.pieces().iter().enumerate();
        pieces
            .map(|(i, placed)| {
                let piece = &placed.piece;
                let step = cutting.and_then(|cutting| cutting.of_piece(index, i));
                let joint = run.joints().get(i + 1);
                Self {
                    number: i + 1,
                    is_bend: piece.bent().is_some(),
                    long: style.length(piece.long_side()),
                    center: style.length(piece.length()),
                    short: style.length(piece.short_side()),
                    start_cut: style.angle(piece.start().angle),
                    end_cut: style.angle(piece.end().angle),
                    clock: match [piece.start(), piece.end()].map(|cut| cut.angle) {
                        // A square end has no long side, as paper says it.
                        cuts if cuts.contains(&Angle::ZERO) => "–".to_owned(),
                        _ => style.clock(piece.clock()),
                    },
                    feed: step.map(|step| [style.length(step.feed), style.decimal(step.feed)]),
                    rotate: step.map(|step| match step.angle == Angle::ZERO {
                        true => "any".to_owned(),
                        false => style.clock(step.rotate),
                    }),
                    angle: step.map(|step| style.angle(step.angle)),
                    joint: joint.map_or(String::new(), |joint| match joint.kind {
                        JointKind::Flange => "port".to_owned(),
                        JointKind::Square => "square".to_owned(),
                        JointKind::Miter => {
                            format!("miter, turns {}", style.angle(joint.deflection))
                        }
                    }),
                }
            })
            .collect()
    }
}

/// A way's numbers: what it is and what it takes.
pub fn way_numbers(candidate: &Candidate, style: Style) -> Vec<(&'static str, String)> {
    let (cost, route) = (&candidate.cost, &candidate.route);
    let settings = counted(cost.setups as usize, "setting");
    vec![
        ("bends", route.bends.len().to_string()),
        ("joints", cost.joints.to_string()),
        ("saw", settings),
        ("length", style.length(candidate.run.length())),
        ("time", format!("{:.0} min", cost.minutes)),
        ("cost", format!("{:.2}", cost.money)),
        ("flow loss K", format!("{:.2}", cost.flow.k)),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use runwright::job::read_job;
    use runwright::plan::plan;

    /// The README's table of the example, which the saw sheet prints.
    #[test]
    fn numbers_are_those_of_the_sheet() {
        let bytes = include_bytes!("../../../examples/stack.json");
        let job = read_job(bytes, "stack").job.unwrap();
        let plan = plan(&job).unwrap();
        let run = &plan.runs[0];
        let numbers =
            PieceNumbers::of_run(run.run(), 0, Some(&Cutting::of_plan(&plan)[0]), job.style);
        assert_eq!(numbers.len(), run.run().pieces().len());
        let fourth = &numbers[3];
        assert_eq!(
            fourth.feed,
            Some(["7 13/16 in".to_owned(), "7.818 in".to_owned()])
        );
        assert_eq!(fourth.rotate.as_deref(), Some("224.78°"));
        assert_eq!(fourth.angle.as_deref(), Some("8.31°"));
        // The last cut is square: any turn will do, and there is no clock to it.
        let last = &numbers[numbers.len() - 1];
        assert_eq!(last.rotate.as_deref(), Some("any"));
        assert_eq!(last.clock, "–");
    }
}
