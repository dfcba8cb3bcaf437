//! Steps that close a gap: what is turned or cut again, the pieces, and how they go in.

use super::loose::sleeve_numbers;
use super::step::{Phase, Step};
use runwright::closure::{Closure, Several, Side, Trim, Turn};
use runwright::plan::{Advice, BetweenEnds, Closing, Found};
use runwright::run::Placed;
use runwright::tube::{Edge, Sleeve};
use runwright::units::{Angle, Style};

/// Turns smaller than this are none, rad: rounding.
const NO_TURN: f64 = 1e-6;

/// All of them. `first` is where the closing pieces stand in the run as it was built, from
/// 0; none where it is no run.
pub fn closing_steps(closing: &Closing, first: Option<usize>) -> Vec<Step> {
    let maker = Maker {
        closing,
        style: closing.style,
        first,
    };
    match &closing.found {
        Found::Widths { gap, .. } => {
            vec![maker.cut(0, 1, sleeve_large(&gap.sleeve, closing.style))]
        }
        Found::Ends(between) => maker.between(between),
    }
}

struct Maker<'a> {
    closing: &'a Closing,
    style: Style,
    first: Option<usize>,
}

impl Maker<'_> {
    fn between(&self, between: &BetweenEnds) -> Vec<Step> {
        let mut steps = Vec::new();
        if let Some(reclock) = between
            .reclock
            .as_ref()
            .filter(|_| between.advice == Advice::Reclock)
        {
            steps.extend(reclock.turns.iter().map(|turn| self.turn(turn)));
            let mut again = Step::new(Phase::Check, "Measure both ends again");
            again.large = vec![("THEN".to_owned(), "close it anew".to_owned())];
            again.notes = vec![
                "turned joints never come to stand just as reckoned: measure before you cut the piece"
                    .to_owned(),
            ];
            steps.push(again);
        }
        let several = between
            .several
            .as_ref()
            .and_then(|found| found.as_ref().ok());
        match (between.closure(), several) {
            (Some(closure), _) => steps.extend(self.one(closure)),
            (None, Some(several)) if between.advice == Advice::Several => {
                steps.extend(self.several(several));
            }
            _ => {}
        }
        steps
    }

    fn turn(&self, turn: &Turn) -> Step {
        let style = self.style;
        let by = turn.by;
        let mut step = Step::new(Phase::Tack, format!("Turn joint {}", turn.joint.joint));
        step.joint = self.first.map(|_| turn.joint.joint);
        let way = if by > Angle::ZERO {
            "clockwise"
        } else {
            "counterclockwise"
        };
        let round = self.closing.tube.radius() * by.abs().radians();
        step.large = vec![
            ("TURN".to_owned(), style.angle(by.abs())),
            ("LOOKING DOWNSTREAM".to_owned(), way.to_owned()),
            ("ROUND THE OUTSIDE".to_owned(), style.length(round)),
        ];
        if turn.joint.tacked {
            step.notes.push("break the tacks first".to_owned());
        }
        step.notes
            .push("turn what is between the joint and the gap".to_owned());
        if by.abs().radians() > NO_TURN {
            step.notes.push(format!(
                "the walls then step by {} there",
                style.decimal(turn.high_low)
            ));
        }
        step
    }

    fn one(&self, closure: &Closure) -> Vec<Step> {
        let trims = Side::BOTH.into_iter().zip(&closure.trims);
        let mut steps: Vec<Step> = trims
            .filter_map(|(side, trim)| Some(self.trim(side, trim.as_ref()?)))
            .collect();
        steps.push(self.cut(0, 1, sleeve_large(&closure.sleeve, self.style)));
        let mut put = self.put(0, 1);
        for (side, seam) in Side::BOTH.into_iter().zip(&closure.seams) {
            put.large.push((
                format!("WALLS STEP BY, END {}", side.word().to_uppercase()),
                self.style.decimal(seam.high_low.abs()),
            ));
        }
        put.notes.push(format!(
            "a root gap of {} at each end",
            self.style.decimal(self.closing.fit_up.gap)
        ));
        steps.push(put);
        steps
    }

    fn several(&self, several: &Several) -> Vec<Step> {
        let trims = Side::BOTH.into_iter().zip(&several.trims);
        let mut steps: Vec<Step> = trims
            .filter_map(|(side, trim)| Some(self.trim(side, trim.as_ref()?)))
            .collect();
        let pieces = several.pieces();
        let count = pieces.len();
        let cuts = pieces.iter().enumerate();
        steps.extend(cuts.map(|(i, placed)| self.cut(i, count, placed_large(placed, self.style))));
        let puts = pieces.iter().zip(several.joints()).enumerate();
        steps.extend(puts.map(|(i, (_, joint))| {
            let mut step = self.put(i, count);
            step.large
                .push(("BENDS".to_owned(), self.style.angle(joint.deflection)));
            step.large
                .push(("BRING TOGETHER".to_owned(), "long sides".to_owned()));
            step.notes
                .push(format!("at joint {}", self.closing.joint_name(i, count)));
            step
        }));
        steps
    }

    fn trim(&self, side: Side, trim: &Trim) -> Step {
        let mut step = Step::new(Phase::Cut, format!("Cut the end {} again", side.word()));
        step.large = vec![
            ("ANGLE".to_owned(), self.style.angle(trim.cut)),
            ("OFF AT MOST".to_owned(), self.style.length(trim.most)),
            ("OFF AT LEAST".to_owned(), self.style.length(trim.least)),
        ];
        step.notes.push(
            "mark it all round first: the closing sheet and its pattern say how far at each clock"
                .to_owned(),
        );
        step
    }

    fn name(&self, i: usize, count: usize) -> String {
        match (count, &self.closing.plan) {
            (1, Some(plan)) => format!("piece {}", plan.piece),
            (1, None) => "the piece".to_owned(),
            _ => format!("piece {}", self.closing.piece_name(i)),
        }
    }

    fn cut(&self, i: usize, count: usize, large: Vec<(String, String)>) -> Step {
        let mut step = Step::new(Phase::Cut, format!("Cut {}", self.name(i, count)));
        step.subject = self.first.map(|first| (0, first + i));
        step.large = large;
        step.notes.push(
            "wrap the pattern round it, or mark it by the closing sheet: Export writes both"
                .to_owned(),
        );
        step
    }

    fn put(&self, i: usize, count: usize) -> Step {
        let mut step = Step::new(Phase::Tack, format!("Put in {}", self.name(i, count)));
        step.subject = self.first.map(|first| (0, first + i));
        step.joint = self.first.map(|first| first + i);
        step
    }
}

fn sleeve_large(sleeve: &Sleeve, style: Style) -> Vec<(String, String)> {
    let numbers = sleeve_numbers(sleeve, style);
    let of = |name: &str| numbers.iter().find(|(own, _)| own == name);
    let mut large = vec![("LONG SIDE".to_owned(), style.length(sleeve.long_side().0))];
    let both = [(sleeve.start(), "START"), (sleeve.end(), "END")];
    for (edge, name) in both {
        let cut = match edge {
            Edge::Cut(cut) => style.angle(cut.angle),
            Edge::Scribed(_) => "by its pattern".to_owned(),
        };
        large.push((format!("CUT AT ITS {name}"), cut));
    }
    if let Some((_, clock)) = of("clock, long side to long side") {
        large.push(("CLOCK, LONG SIDE TO LONG SIDE".to_owned(), clock.clone()));
    }
    large
}

fn placed_large(placed: &Placed, style: Style) -> Vec<(String, String)> {
    let piece = &placed.piece;
    if let Some(bent) = piece.bent() {
        return vec![
            ("STOCK BEND TURNS".to_owned(), style.angle(bent.turn)),
            ("LEG BEFORE".to_owned(), style.length(bent.legs[0])),
            ("LEG AFTER".to_owned(), style.length(bent.legs[1])),
        ];
    }
    vec![
        ("LONG SIDE".to_owned(), style.length(piece.long_side())),
        (
            "CUT AT ITS START".to_owned(),
            style.angle(piece.start().angle),
        ),
        ("CUT AT ITS END".to_owned(), style.angle(piece.end().angle)),
        (
            "CLOCK, LONG SIDE TO LONG SIDE".to_owned(),
            style.clock(piece.clock()),
        ),
    ]
}
