//! [`Step`]: building a run, cutting first and then tacking up.
//!
//! Cuts go as the packet's saw sheet has them, stick by stick; tacking goes in the library's
//! order ([`TackUp`]): from both ports toward the piece that is left for last.

use super::cutting::{Cut, Cutting, Off};
use super::shown::Shown;
use runwright::export::{BendRow, port_sides};
use runwright::geometry::Point;
use runwright::run::{JointKind, Run};
use runwright::shop::{
    BoughtBend, Fixed, GapWidth, MatchMark, Origin, Spot, TackGap, TackStep, TackUp, Tape,
};
use runwright::tube::{BendCut, Sawn};
use runwright::units::{Angle, Length, Style};
use std::collections::BTreeSet;

/// What is done.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Phase {
    /// A piece is cut off the stick, or a stock bend cut to its legs.
    Cut,
    /// A piece is tacked on to what stands.
    Tack,
    /// What stands is checked with a tape.
    Check,
}

/// A piece: of which run and which one, both from 0.
pub type PieceAt = (usize, usize);

/// One step of building a run.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// What is done.
    pub phase: Phase,
    /// The same in words.
    pub title: String,
    /// The piece at hand.
    pub subject: Option<PieceAt>,
    /// The joint at hand, from 0.
    pub joint: Option<usize>,
    /// What is to be read from across the bench: name and number.
    pub large: Vec<(String, String)>,
    /// What else helps, a line each.
    pub notes: Vec<String>,
    /// Tapes that are pulled now, from and to, with what they read.
    pub tapes: Vec<(Point, Point, String)>,
}

impl Step {
    /// A step that says nothing yet.
    pub fn new(phase: Phase, title: impl Into<String>) -> Self {
        Self {
            phase,
            title: title.into(),
            subject: None,
            joint: None,
            large: Vec::new(),
            notes: Vec::new(),
            tapes: Vec::new(),
        }
    }
}

/// Pieces that are cut, or that stand, once the step `at` is done.
pub fn done(steps: &[Step], at: usize) -> BTreeSet<PieceAt> {
    let Some(now) = steps.get(at) else {
        return BTreeSet::new();
    };
    let is_cutting = now.phase == Phase::Cut;
    let until = steps.iter().take(at + 1);
    let alike = until.filter(|step| (step.phase == Phase::Cut) == is_cutting);
    alike.filter_map(|step| step.subject).collect()
}

/// All steps of a run.
pub fn steps(shown: &Shown, cutting: Option<&Cutting>, index: usize) -> Vec<Step> {
    if let Some(steps) = shown.own_steps(index) {
        return steps.to_vec();
    }
    let Some(run) = shown.run(index) else {
        return Vec::new();
    };
    let maker = Maker {
        shown,
        index,
        run,
        style: shown.style(),
    };
    let mut steps = cutting.map_or(Vec::new(), |cutting| maker.cuts(cutting));
    steps.extend(maker.bends());
    if let Some(tack_up) = shown.tack_up(index) {
        steps.extend(maker.tacks(tack_up));
    }
    steps
}

/// A place on a face, in words.
const fn place(spot: Spot) -> &'static str {
    match spot {
        Spot::Center => "the center",
        Spot::Long => "the long side",
        Spot::Right => "the right side",
        Spot::Short => "the short side",
        Spot::Left => "the left side",
    }
}

struct Maker<'a> {
    shown: &'a Shown,
    index: usize,
    run: &'a Run,
    style: Style,
}

impl Maker<'_> {
    /// A piece's number, after its run's name where that is another than the one at hand.
    fn name(&self, run: usize, piece: usize) -> String {
        if run == self.index {
            (piece + 1).to_string()
        } else {
            format!("{} of '{}'", piece + 1, self.shown.name(run))
        }
    }

    fn cuts(&self, cutting: &Cutting) -> Vec<Step> {
        let mut steps = Vec::new();
        for stick in &cutting.sticks {
            for (i, cut) in stick.cuts.iter().enumerate() {
                let mut step = self.cut(cut);
                if i == 0 {
                    step.notes.insert(0, self.begin(stick.line));
                }
                step.notes.push(format!(
                    "{}: cut {} of {}",
                    stick.title,
                    i + 1,
                    stick.cuts.len()
                ));
                steps.push(step);
            }
        }
        let long = cutting.too_long.iter();
        steps.extend(long.map(|(piece, needs)| {
            let title = format!("Piece {}: no stick is so long", piece + 1);
            let mut step = Step::new(Phase::Cut, title);
            step.subject = Some((self.index, *piece));
            step.large = vec![("A STICK MUST MEASURE".to_owned(), self.style.length(*needs))];
            step.notes =
                vec!["get a longer one, or cut the piece in two and weld them square".to_owned()];
            step
        }));
        steps
    }

    /// What comes before a stick's first cut.
    fn begin(&self, line: Option<Angle>) -> String {
        let Some(line) = line else {
            return "a new stick: square its end, scribe a line along it".to_owned();
        };
        let round = self.run.tube().circumference() * (line / Angle::FULL);
        format!(
            "a new stick: square its end, scribe a line along it, {} clockwise from the weld seam ({} round)",
            self.style.clock(line),
            self.style.length(round)
        )
    }

    fn cut(&self, cut: &Cut) -> Step {
        let style = self.style;
        let title = match cut.off {
            Off::End => "Cut the stick's end".to_owned(),
            Off::Waste => "Cut out a wedge of waste".to_owned(),
            Off::Piece { run, piece, .. } => format!("Cut piece {}", self.name(run, piece)),
        };
        let mut step = Step::new(Phase::Cut, title);
        let square = cut.angle == Angle::ZERO;
        let rotate = if square {
            "any".to_owned()
        } else if cut.half_turn {
            "half turn".to_owned()
        } else {
            style.clock(cut.rotate)
        };
        let saw = if square {
            "square".to_owned()
        } else {
            style.angle(cut.angle)
        };
        step.large = vec![
            ("FEED".to_owned(), style.length(cut.feed)),
            ("ROTATE".to_owned(), rotate),
            ("ANGLE".to_owned(), saw),
        ];
        if cut.again {
            step.notes
                .push("again: saw and stop stay as they are".to_owned());
        }
        step.notes.push(format!(
            "feed exactly {}, kerf included; or a stop at {}",
            style.decimal(cut.feed),
            style.length(cut.stop)
        ));
        if !square {
            step.notes.push(format!(
                "check: the long side is then {} clockwise from the line, {} round",
                style.clock(cut.mark),
                style.length(cut.round)
            ));
        }
        if let Off::Piece {
            run,
            piece,
            end_first,
        } = cut.off
        {
            step.subject = Some((run, piece));
            step.notes.splice(0..0, self.of_piece(run, piece));
            if end_first {
                step.notes
                    .push("its end comes off first: turn it end for end to build".to_owned());
            }
        }
        step
    }

    /// A piece's sides, and whether it is left for last.
    fn of_piece(&self, run: usize, piece: usize) -> Vec<String> {
        let placed = self.shown.run(run).and_then(|run| run.pieces().get(piece));
        let mut notes: Vec<String> = placed.map_or(Vec::new(), |placed| {
            vec![format!(
                "long side {}   short side {}",
                self.style.length(placed.piece.long_side()),
                self.style.length(placed.piece.short_side())
            )]
        });
        if let Some((number, Some(longer))) = self.shown.closing(run)
            && number == piece + 1
        {
            notes.insert(
                0,
                format!(
                    "this one closes the gap: sawn {longer} longer than planned, cut to the gap when that is built"
                ),
            );
        }
        notes
    }

    /// Stock bends, which come off no stick.
    fn bends(&self) -> Vec<Step> {
        let bought = self.shown.bought_bends(self.index);
        let rows = BendRow::all(self.run, &bought, self.style);
        rows.iter()
            .map(|row| {
                let own = bought.iter().find(|bend| bend.piece == row.piece);
                self.bend(row, own)
            })
            .collect()
    }

    /// One of them: what is sawn off it, where it is known from which it is made.
    fn bend(&self, row: &BendRow, bought: Option<&BoughtBend>) -> Step {
        let mut step = Step::new(
            Phase::Cut,
            match row.name.as_str() {
                "" => format!("Stock bend, piece {}", row.piece),
                name => format!("Bend {name}, piece {}", row.piece),
            },
        );
        step.subject = Some((self.index, row.piece.saturating_sub(1)));
        let cuts = bought.map_or(Vec::new(), |bend| bend.cuts(self.run));
        let bent = row
            .piece
            .checked_sub(1)
            .and_then(|i| self.run.pieces().get(i));
        if let Some(bent) = bent.and_then(|placed| placed.piece.bent()) {
            let turns = self.style.angle(bent.turn);
            step.large.push(("TURNS".to_owned(), turns));
            if bought.is_none() {
                let [before, after] = bent.legs.map(|leg| self.style.length(leg));
                step.large.push(("LEG BEFORE".to_owned(), before));
                step.large.push(("LEG AFTER".to_owned(), after));
            }
        }
        for cut in &cuts {
            step.large.extend(self.sawn(cut));
        }
        if bought.is_some() && cuts.is_empty() {
            let nothing = "nothing".to_owned();
            step.large.push(("SAW OFF".to_owned(), nothing));
        }
        step.notes.push(row.full());
        step.notes.extend(row.cuts.iter().cloned());
        step
    }

    /// What a cut of a stock bend is measured by.
    fn sawn(&self, cut: &BendCut) -> Vec<(String, String)> {
        let end = if cut.end == 0 { "START" } else { "END" };
        match cut.sawn {
            Sawn::Leg { off, .. } => vec![(format!("OFF ITS {end}"), self.style.length(off))],
            Sawn::Arc { from_end, .. } => {
                let other = if cut.end == 0 { "END" } else { "START" };
                let [outside, inside] = from_end.map(|side| self.style.length(side));
                vec![
                    (format!("FROM ITS {other}, OUTSIDE"), outside),
                    (format!("FROM ITS {other}, INSIDE"), inside),
                ]
            }
        }
    }

    fn tacks(&self, tack_up: &TackUp) -> Vec<Step> {
        let mut steps = Vec::new();
        let mut gap = tack_up.gap.as_ref();
        for tack in &tack_up.steps {
            let is_closure = gap.is_some_and(|gap| tack.piece == Some(gap.piece));
            if let Some(gap) = gap.take_if(|_| is_closure) {
                steps.push(self.measure(gap, tack_up.deviations));
            }
            steps.push(self.tack(tack));
            if !tack.tapes.is_empty() {
                steps.push(self.check(tack, tack_up.deviations));
            }
        }
        steps
    }

    fn kind(&self, joint: usize) -> JointKind {
        let joint = self.run.joints().get(joint);
        joint.map_or(JointKind::Square, |joint| joint.kind)
    }

    fn tack(&self, tack: &TackStep) -> Step {
        let port = self.shown.port_names(self.index)[tack.origin.index()];
        let at_port = self.kind(tack.joint) == JointKind::Flange;
        let title = match tack.piece {
            Some(piece) if at_port => format!("Piece {piece} on '{port}'"),
            Some(piece) => {
                let on = match tack.origin {
                    Origin::First => piece.saturating_sub(1),
                    Origin::Last => piece + 1,
                };
                format!("Piece {piece} on piece {on}")
            }
            None if at_port => {
                format!("The end on '{}'", self.shown.port_names(self.index)[1])
            }
            None => format!("Close joint {}", tack.joint),
        };
        let mut step = Step::new(Phase::Tack, title);
        step.subject = tack
            .piece
            .map(|piece| (self.index, piece.saturating_sub(1)));
        step.joint = Some(tack.joint);
        step.large = self.bring_together(tack);
        step.notes = self.how(tack);
        step
    }

    fn bring_together(&self, tack: &TackStep) -> Vec<(String, String)> {
        let mark = |mark: &MatchMark| {
            (
                format!("MARK ON PIECE {}", mark.piece),
                self.round((mark.clock, mark.round), "its line"),
            )
        };
        let mut large = Vec::new();
        match (&tack.marks.before, &tack.marks.after) {
            (Some(_), Some(_)) if tack.marks.are_together() => {
                let lines = match self.kind(tack.joint) {
                    JointKind::Miter => "long sides",
                    _ => "lines",
                };
                large.push(("BRING TOGETHER".to_owned(), lines.to_owned()));
            }
            (Some(before), Some(after)) => large.extend([mark(before), mark(after)]),
            _ => large.extend(self.on_the_port(tack)),
        }
        if self.kind(tack.joint) == JointKind::Miter {
            large.push(("BENDS".to_owned(), self.style.angle(tack.deflection)));
        }
        large
    }

    /// How far round a port the line of the piece on it comes.
    fn on_the_port(&self, tack: &TackStep) -> Option<(String, String)> {
        let port = tack.port?;
        Some((
            format!(
                "ITS LINE, FROM THE PORT'S {}",
                port.from.word().to_uppercase()
            ),
            self.round((port.clock, port.round), "there"),
        ))
    }

    /// A clock and how far round that is, or `none` at zero.
    fn round(&self, (clock, round): (Angle, Length), none: &str) -> String {
        if clock == Angle::ZERO {
            return none.to_owned();
        }
        format!("{}  {}", self.style.clock(clock), self.style.length(round))
    }

    fn how(&self, tack: &TackStep) -> Vec<String> {
        let mut notes = vec![match (&tack.marks.before, &tack.marks.after) {
            (Some(_), Some(_)) if tack.marks.are_together() => {
                "the lines of both pieces meet; tack, then check".to_owned()
            }
            (Some(_), Some(_)) => "bring both marks together: each so far round from its own piece's long side, clockwise looking downstream".to_owned(),
            _ => "square end against the port's face, in line with its axis; so far round clockwise looking downstream".to_owned(),
        }];
        if tack.port.is_some() {
            let tack_up = self.shown.tack_up(self.index);
            notes.extend(tack_up.map(port_sides).unwrap_or_default());
        }
        if let Some(joint) = self.run.joints().get(tack.joint)
            && joint.kind == JointKind::Miter
        {
            notes.push(format!(
                "both faces are cut at {}",
                self.style.angle(joint.cut())
            ));
        }
        notes.push(format!("joint {}", tack.joint));
        notes
    }

    fn check(&self, tack: &TackStep, deviations: f64) -> Step {
        let piece = tack.piece.unwrap_or_default();
        let mut step = Step::new(Phase::Check, format!("Tape to piece {piece}"));
        step.subject = tack
            .piece
            .map(|piece| (self.index, piece.saturating_sub(1)));
        step.large = tack.tapes.iter().map(|tape| self.reading(tape)).collect();
        step.tapes = tack
            .tapes
            .iter()
            .map(|tape| (tape.from_at, tape.to_at, self.style.length(tape.distance)))
            .collect();
        let rim = tack
            .tapes
            .iter()
            .any(|tape| matches!(tape.from, Fixed::Rim { .. }));
        if rim {
            step.notes.push(
                "degrees at a port: a mark on the tube's outside at its face, so far round from the line of the piece that is put on there".to_owned(),
            );
        }
        step.notes.push(format!(
            "straight to the newest face while all is tacked; give or take is {deviations} standard deviations of what was built so far. Sides of the face count from its long side, looking downstream"
        ));
        step
    }

    fn reading(&self, tape: &Tape) -> (String, String) {
        let through = if tape.free { "" } else { ", through the tube" };
        (
            format!("from {} to {}{through}", tape.from.words(), place(tape.to)),
            format!(
                "{} ± {}",
                self.style.length(tape.distance),
                self.style.tolerance(tape.tolerance)
            ),
        )
    }

    /// The gap before its piece is cut.
    fn measure(&self, gap: &TackGap, deviations: f64) -> Step {
        let mut step = Step::new(Phase::Check, format!("Gap for piece {}", gap.piece));
        let reading = |width: &GapWidth| {
            (
                match width.spot {
                    Spot::Center => "center to center".to_owned(),
                    spot => format!("{}, rim to rim", place(spot)),
                },
                format!(
                    "{} ± {}",
                    self.style.length(width.distance),
                    self.style.tolerance(width.tolerance)
                ),
            )
        };
        step.large = gap.widths.iter().map(reading).collect();
        step.tapes = gap
            .widths
            .iter()
            .map(|width| {
                (
                    width.from_at,
                    width.to_at,
                    self.style.length(width.distance),
                )
            })
            .collect();
        step.notes = vec![
            format!("give or take is {deviations} standard deviations; sides are the piece's own, looking downstream"),
            "measure both built ends and have the piece cut to them: runwright close, or open that file here".to_owned(),
        ];
        step
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::state::Session;
    use std::path::Path;

    fn open(example: &str) -> Session {
        let mut session = Session::default();
        session.open(
            &Path::new(env!("CARGO_MANIFEST_DIR"))
                .join("../examples")
                .join(example),
        );
        session.wait();
        session
    }

    #[test]
    fn every_piece_is_cut_and_then_tacked_in_the_library_s_order() {
        for example in ["stack.json", "duct.json", "bay.json"] {
            let session = open(example);
            let run = session.shown.run(0).unwrap();
            let steps = session.steps();
            let tack_up = session.shown.tack_up(0).unwrap();
            let cut: BTreeSet<_> = steps
                .iter()
                .filter(|step| step.phase == Phase::Cut)
                .filter_map(|step| step.subject)
                .collect();
            assert_eq!(cut.len(), run.pieces().len(), "{example}");
            let tacked: Vec<_> = steps
                .iter()
                .filter(|step| step.phase == Phase::Tack)
                .map(|step| (step.joint, step.subject.map(|(_, piece)| piece + 1)))
                .collect();
            let asked: Vec<_> = tack_up
                .steps
                .iter()
                .map(|step| (Some(step.joint), step.piece))
                .collect();
            assert_eq!(tacked, asked, "{example}");
            for step in steps.iter() {
                assert!(!step.large.is_empty(), "{}", step.title);
            }
            let readings: usize = steps.iter().map(|step| step.tapes.len()).sum();
            let gap = tack_up.gap.as_ref().map_or(0, |gap| gap.widths.len());
            let tapes: usize = tack_up.steps.iter().map(|step| step.tapes.len()).sum();
            assert_eq!(readings, gap + tapes, "{example}");
        }
    }

    #[test]
    fn what_stands_grows_from_both_ports_and_the_closure_comes_last() {
        let session = open("stack.json");
        let steps = session.steps();
        let pieces = session.shown.run(0).unwrap().pieces().len();
        let (closing, _) = session.shown.closing(0).unwrap();
        let first = steps
            .iter()
            .position(|step| step.phase == Phase::Tack)
            .unwrap();
        assert_eq!(done(steps, first), BTreeSet::from([(0, 0)]));
        assert_eq!(done(steps, first - 1).len(), pieces, "all are cut by then");
        let mut before = 0;
        for at in first..steps.len() {
            let stand = done(steps, at);
            assert!(stand.len() == before || stand.len() == before + 1);
            before = stand.len();
            let is_closed = stand.contains(&(0, closing - 1));
            assert_eq!(is_closed, before == pieces, "{}", steps[at].title);
        }
        assert_eq!(before, pieces);
        let gap = steps.iter().find(|step| step.title.starts_with("Gap"));
        assert_eq!(gap.unwrap().large.len(), 5);
    }

    /// Two runs on the same sticks: each is cut from all that hold a piece of it, and what
    /// belongs to the other is named so.
    #[test]
    fn sticks_that_two_runs_share_name_both() {
        let text = r#"{ "units": "in", "tube": { "od": 2.5, "wall": 0.065 },
            "shop": { "sticks": [ { "length": "40 in" } ] },
            "ports": {
                "a": { "center": [0, 0, 0], "outward": [0, 0, 1] },
                "b": { "center": [8.5, 4, 10], "outward": [-1, 0, 0] },
                "c": { "center": [0, 20, 0], "outward": [0, 0, 1] },
                "d": { "center": [8.5, 24, 10], "outward": [-1, 0, 0] } },
            "runs": [ { "name": "near", "from": "a", "to": "b" },
                      { "name": "far", "from": "c", "to": "d" } ] }"#;
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("job.json");
        std::fs::write(&path, text).unwrap();
        let mut session = Session::default();
        session.open(&path);
        session.wait();
        for (run, other) in [(0, "far"), (1, "near")] {
            session.look_at(run);
            let cuts = session
                .steps()
                .iter()
                .filter(|step| step.phase == Phase::Cut);
            let subjects: Vec<PieceAt> = cuts.clone().filter_map(|step| step.subject).collect();
            let own = subjects.iter().filter(|(of, _)| *of == run).count();
            assert_eq!(own, session.shown.run(run).unwrap().pieces().len());
            assert!(subjects.len() > own, "one stick holds both");
            let titles = cuts.map(|step| step.title.as_str());
            assert!({ titles }.any(|title| title.ends_with(&format!("of '{other}'"))));
        }
    }
}
