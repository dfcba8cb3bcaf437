//! `closure.svg` and `closure.dxf`: wrap patterns at true size for the piece that closes a
//! gap, and for ends that are cut again.

use crate::closure::{Closure, Several, Side, Trim};
use crate::export::flat::Ink;
use crate::export::paper::{Faces, Inner, Mark, MarkAt, Roll, Wrap};
use crate::export::patterns::both;
use crate::export::{ExportError, OutFile};
use crate::plan::{BetweenEnds, Closing, Found, MetEnd};
use crate::tube::{Edge, Outline, Sleeve};
use crate::units::{Angle, Length, Style};

const NAME: &str = "closure";

/// Built tube that a pattern for cutting an end again covers behind the cut: enough to
/// wrap square.
const COVERED: Length = Length::from_mm(40.0);

/// Writes `closure.svg` and `closure.dxf`; nothing where nothing closes the gap.
pub fn closing_patterns(closing: &Closing, paper: Length) -> Result<Vec<OutFile>, ExportError> {
    let draw = Draw { closing, paper };
    let wraps = match &closing.found {
        Found::Ends(between) => draw.between(between),
        Found::Widths { widths, gap, .. } => {
            let first = widths.stations.first().map_or(Angle::ZERO, |at| at.clock);
            let mark = Mark::new(first, MarkAt::Through, "station 1");
            let labels = ["the end before".to_owned(), "the end after".to_owned()];
            vec![draw.piece("closure", "closing piece", &gap.sleeve, labels, vec![mark])]
        }
    };
    if wraps.is_empty() {
        return Ok(Vec::new());
    }
    let mut roll = Roll::new();
    roll.add_wraps(&wraps);
    both(NAME, &roll.page(), Ink::Paper)
}

struct Draw<'a> {
    closing: &'a Closing,
    paper: Length,
}

impl Draw<'_> {
    fn between(&self, between: &BetweenEnds) -> Vec<Wrap> {
        if let Some(closure) = between.closure() {
            return self.closure(between, closure);
        }
        match &between.several {
            Some(Ok(several)) => self.several(between, several),
            _ => Vec::new(),
        }
    }

    fn closure(&self, between: &BetweenEnds, closure: &Closure) -> Vec<Wrap> {
        let labels = [0, 1].map(|i| end_name(&between.ends[i], Side::BOTH[i]));
        let at = [MarkAt::Start, MarkAt::End];
        let mut marks: Vec<Mark> = (0..2)
            .filter_map(|i| {
                let (_, name) = between.ends[i].built.mark.as_ref()?;
                let label = format!("{name} of the end {}", Side::BOTH[i].word());
                Some(Mark::new(closure.marks[i]?, at[i], label))
            })
            .collect();
        marks.extend(long_sides(&closure.sleeve));
        let title = match &self.closing.plan {
            Some(plan) => format!("{}: closing piece {}", plan.run.name, plan.piece),
            None => "closing piece".to_owned(),
        };
        let mut wraps = vec![self.piece("closure", &title, &closure.sleeve, labels, marks)];
        wraps.extend(self.cuts(between, &closure.trims));
        wraps
    }

    fn several(&self, between: &BetweenEnds, several: &Several) -> Vec<Wrap> {
        let straight = several.pieces().iter().enumerate();
        let straight = straight.filter_map(|(i, placed)| Some((i, placed.piece.straight()?)));
        let last = several.pieces().len();
        let label = |joint: usize| match joint {
            0 => end_name(&between.ends[0], Side::Before),
            _ if joint == last => end_name(&between.ends[1], Side::After),
            _ => format!("joint {}", self.closing.joint_name(joint, last)),
        };
        let clocks = several.marks([&between.ends[0].built, &between.ends[1].built]);
        let at_end = |i: usize, at: MarkAt| {
            let (_, name) = between.ends[i].built.mark.as_ref()?;
            let label = format!("{name} of the end {}", Side::BOTH[i].word());
            Some(Mark::new(clocks[i]?, at, label))
        };
        let mut wraps: Vec<Wrap> = straight
            .map(|(i, piece)| {
                let sleeve = Sleeve::from(piece);
                let mut marks = long_sides(&sleeve);
                marks.extend((i == 0).then(|| at_end(0, MarkAt::Start)).flatten());
                marks.extend((i + 1 == last).then(|| at_end(1, MarkAt::End)).flatten());
                let title = format!("closing piece {}", self.closing.piece_name(i));
                let id = format!("closure-{}", i + 1);
                self.piece(&id, &title, &sleeve, [label(i), label(i + 1)], marks)
            })
            .collect();
        wraps.extend(self.cuts(between, &several.trims));
        wraps
    }

    fn piece(
        &self,
        id: &str,
        title: &str,
        sleeve: &Sleeve,
        [from, to]: [String; 2],
        marks: Vec<Mark>,
    ) -> Wrap {
        // The start's short side goes to the paper's edges, so that the pattern is widest
        // in its middle.
        let long = match sleeve.start() {
            Edge::Cut(cut) => cut.clock,
            Edge::Scribed(_) => Angle::ZERO,
        };
        Wrap {
            id: id.to_owned(),
            number: String::new(),
            title: format!("{title}, from {from} to {to}"),
            facts: sizes(sleeve, self.closing.style),
            outline: Outline::new(sleeve, long - Angle::HALF, self.paper),
            start_label: format!("from {from}"),
            end_label: format!("to {to}"),
            marks,
            ticks_from: Angle::ZERO,
            inner: Vec::new(),
            tab: true,
            ends: Vec::new(),
        }
    }

    /// Patterns to cut built ends again by.
    fn cuts(&self, between: &BetweenEnds, trims: &[Option<Trim>; 2]) -> Vec<Wrap> {
        let ends = between.ends.iter().zip(Side::BOTH).zip(trims);
        ends.filter_map(|((end, side), trim)| self.cut(end, side, trim.as_ref()?))
            .collect()
    }

    /// A strip round the built tube: one edge flush with its rim, square at the other, and
    /// between them the line to prick through and cut along.
    fn cut(&self, end: &MetEnd, side: Side, trim: &Trim) -> Option<Wrap> {
        let built = &end.built;
        let (rim, cut) = (built.edge(side), trim.edge(built, side));
        let tube = &self.closing.tube;
        // Behind the lowest of the cut, from the rim's center.
        let (least, _) = cut.range(tube.radius());
        let depth = trim.off - least + COVERED;
        let (edges, level, faces) = match side {
            Side::Before => ([Edge::SQUARE, rim], depth - trim.off, Faces::Downstream),
            Side::After => ([rim, Edge::SQUARE], trim.off, Faces::Upstream),
        };
        let [start, last] = edges;
        let strip = Sleeve::new(tube.clone(), depth, start, last).ok()?;
        let mark = built.mark.as_ref();
        let mark = mark.map(|(_, name)| Mark::new(Angle::ZERO, MarkAt::Through, name.as_str()));
        let style = self.closing.style;
        let word = side.word();
        let flush = format!("flush with the rim of the end {word}, as it is");
        let (start_label, end_label) = match side {
            Side::Before => (String::new(), flush),
            Side::After => (flush, String::new()),
        };
        Some(Wrap {
            id: format!("cut-{word}"),
            title: match end.seam {
                Some(joint) => format!("cut the end {word} again: joint {joint}"),
                None => format!("cut the end {word} again"),
            },
            number: String::new(),
            facts: format!(
                "{} off square, {} to {} comes off; wrap the built tube printed side out, prick the dashed line through, cut on the waste side",
                style.angle(trim.cut),
                style.decimal(trim.least),
                style.decimal(trim.most),
            ),
            outline: Outline::new(strip, Angle::ZERO - Angle::HALF, self.paper),
            start_label,
            end_label,
            marks: mark.into_iter().collect(),
            ticks_from: Angle::ZERO,
            inner: vec![Inner {
                edge: cut,
                level,
                faces,
                label: "cut here".to_owned(),
            }],
            tab: true,
            ends: Vec::new(),
        })
    }
}

fn long_sides(sleeve: &Sleeve) -> Vec<Mark> {
    let ends = [(sleeve.start(), "start"), (sleeve.end(), "end")];
    let long = ends.into_iter().filter_map(|(edge, name)| match edge {
        Edge::Cut(cut) if cut.angle > Angle::ZERO => {
            let label = format!("long side, {name}");
            Some(Mark::new(cut.clock, MarkAt::Through, label))
        }
        _ => None,
    });
    long.collect()
}

fn sizes(sleeve: &Sleeve, style: Style) -> String {
    let cut = |edge: &Edge| match edge {
        Edge::Cut(cut) => style.angle(cut.angle),
        Edge::Scribed(_) => "scribed".to_owned(),
    };
    format!(
        "long {}, center {}, short {}; cuts {} and {}; print at 100 %, wrap printed side out",
        style.length(sleeve.long_side().0),
        style.length(sleeve.length()),
        style.length(sleeve.short_side().0),
        cut(sleeve.start()),
        cut(sleeve.end()),
    )
}

/// What an end is called on a pattern.
fn end_name(end: &MetEnd, side: Side) -> String {
    match (&end.port, end.seam) {
        (Some(port), _) => format!("port '{}'", port.name),
        (None, Some(joint)) => format!("joint {joint}"),
        (None, None) => format!("the end {}", side.word()),
    }
}
