//! The wrap patterns of a run's pieces.

use super::RunOnPaper;
use super::ends::Ends;
use super::wrap::{Mark, MarkAt, Wrap};
use crate::run::{JointKind, Run};
use crate::shop::{Kind, kinds};
use crate::tube::{Cut, Outline, Piece};
use crate::units::{Angle, Length, Style};

/// Nearer to each other than this, degrees, two clocks are one mark.
const ONE_MARK: f64 = 0.01;

/// How patterns are made.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::export) enum Made {
    /// On paper that is wrapped round the tube: a tab, and its thickness allowed for.
    Paper(Length),
    /// Of stiff card or sheet, or on the tube itself: no tab.
    Card(Length),
}

impl Made {
    const fn thickness(self) -> Length {
        match self {
            Self::Paper(thickness) | Self::Card(thickness) => thickness,
        }
    }

    const fn how(self) -> &'static str {
        match self {
            Self::Paper(_) => "wrap printed side out, left edge to the dashed line",
            Self::Card(_) => "roll marked side out, edge to edge",
        }
    }
}

/// One pattern for each kind of straight piece with a miter.
pub(super) fn wraps(on_paper: &RunOnPaper<'_>, made: Made) -> Vec<Wrap> {
    let kinds = kinds(on_paper.run);
    kinds
        .iter()
        .filter(|kind| !is_square(kind.piece))
        .map(|kind| wrap(on_paper, kind, made))
        .collect()
}

/// Whether there is nothing to mark a piece by: a square cut needs no pattern.
fn is_square(piece: &Piece) -> bool {
    [piece.start(), piece.end()].map(|cut| cut.angle) == [Angle::ZERO; 2]
}

/// Which straight pieces have no pattern, and how long they are: title and lines.
pub(super) fn square_words(on_paper: &RunOnPaper<'_>) -> Option<[String; 2]> {
    let kinds = kinds(on_paper.run);
    let square = kinds.iter().filter(|kind| is_square(kind.piece));
    let said = square.map(|kind| {
        let length = on_paper.style.length(kind.piece.length());
        let longer = longer_of(on_paper, kind).map_or(String::new(), |(piece, by)| {
            let by = on_paper.style.length(by);
            format!(", and piece {piece}, which is left for last, {by} more")
        });
        format!("{} {length}{longer}", named(&kind.numbers))
    });
    let said: Vec<String> = said.collect();
    (!said.is_empty()).then(|| {
        [
            format!("{}: no pattern for square pieces", on_paper.name),
            format!("cut square at both ends: {}", said.join("; ")),
        ]
    })
}

/// `piece 3`, `pieces 3-5`.
fn named(numbers: &[usize]) -> String {
    let noun = if numbers.len() == 1 {
        "piece"
    } else {
        "pieces"
    };
    format!("{noun} {}", ranges(numbers))
}

/// The piece that is left for last, if it is one of a kind's, and what it is sawn longer.
fn longer_of(on_paper: &RunOnPaper<'_>, kind: &Kind<'_>) -> Option<(usize, Length)> {
    let longer = on_paper.longer;
    longer.filter(|(piece, by)| kind.numbers.contains(piece) && *by > Length::ZERO)
}

/// What a pattern says of the piece that is sawn longer: after its title, before its sizes,
/// at the edge that it is longer past.
fn for_last(on_paper: &RunOnPaper<'_>, kind: &Kind<'_>) -> [String; 3] {
    let Some((piece, by)) = longer_of(on_paper, kind) else {
        return [const { String::new() }; 3];
    };
    let by = on_paper.style.length(by);
    let whose = match kind.numbers.len() {
        1 => String::new(),
        _ => format!("piece {piece}: "),
    };
    [
        format!(", {whose}for last"),
        format!("{whose}for last: saw {by} longer, see the saw sheet; "),
        format!("; {whose}for last: leave {by} past this edge"),
    ]
}

fn wrap(on_paper: &RunOnPaper<'_>, kind: &Kind<'_>, made: Made) -> Wrap {
    let piece = kind.piece;
    let first = kind.numbers.first().copied().unwrap_or(0);
    let numbers = ranges(&kind.numbers);
    let (from, to) = joints(on_paper.run, kind);
    let mut marks = seams(on_paper, kind);
    marks.extend(sides(piece));
    // The short side of the start goes to the paper's edges, so that the pattern is
    // widest in its middle, as a gore is drawn.
    let first_clock = piece.start().clock - Angle::HALF;
    let [titled, sized, past] = for_last(on_paper, kind);
    let sizes = format!("{sized}{}", sizes(piece, on_paper.style));
    let whole = Wrap {
        id: format!("outline-{}-{first}", on_paper.stem),
        title: format!(
            "{}: {}, from {from} to {to}{titled}",
            on_paper.name,
            named(&kind.numbers)
        ),
        facts: format!("{sizes}; {}", made.how()),
        number: numbers,
        outline: Outline::new(piece, first_clock, made.thickness()),
        start_label: format!("from {from}"),
        end_label: format!("to {to}{past}"),
        marks,
        ticks_from: Angle::ZERO,
        inner: Vec::new(),
        tab: matches!(made, Made::Paper(_)),
        ends: Vec::new(),
    };
    let ends = Ends {
        whole: &whole,
        piece,
        sizes: &sizes,
        how: made.how(),
        name: format!("{}: {}", on_paper.name, named(&kind.numbers)),
        first_clock,
        thickness: made.thickness(),
        style: on_paper.style,
    };
    Wrap {
        ends: ends.wraps(),
        ..whole
    }
}

/// Seams at one clock share a line, named by their pieces where not all are there.
fn seams(on_paper: &RunOnPaper<'_>, kind: &Kind<'_>) -> Vec<Mark> {
    let mut seams: Vec<(Angle, Vec<usize>)> = Vec::new();
    for &number in &kind.numbers {
        let seam = number.checked_sub(1).and_then(|i| on_paper.seams.get(i));
        let Some(clock) = seam.copied().flatten() else {
            continue;
        };
        match seams.iter_mut().find(|(other, _)| is_one(*other, clock)) {
            Some((_, numbers)) => numbers.push(number),
            None => seams.push((clock, vec![number])),
        }
    }
    let mark = |(clock, numbers): (Angle, Vec<usize>)| {
        let label = match numbers.len() == kind.numbers.len() {
            true => "tube's seam".to_owned(),
            false => format!("tube's seam, {}", ranges(&numbers)),
        };
        Mark::seam(clock, label)
    };
    seams.into_iter().map(mark).collect()
}

/// The long side of either end, and the short side of the whole.
fn sides(piece: &Piece) -> Vec<Mark> {
    let through = |clock, label: &str| Mark::new(clock, MarkAt::Through, label);
    let long = |cut: Cut| (cut.angle > Angle::ZERO).then_some(cut.clock);
    let mut marks = match (long(piece.start()), long(piece.end())) {
        (Some(start), Some(end)) if is_one(start, end) => vec![through(start, "long side")],
        (start, end) => {
            let both = start.is_some() && end.is_some();
            let name = |end| match both {
                true => format!("long side, {end}"),
                false => "long side".to_owned(),
            };
            let start = start.map(|clock| through(clock, &name("start")));
            let end = end.map(|clock| through(clock, &name("end")));
            start.into_iter().chain(end).collect()
        }
    };
    if !marks.is_empty() && piece.long_side() > piece.short_side() {
        let sleeve = crate::tube::Sleeve::from(piece);
        marks.push(through(sleeve.short_side().1, "short side"));
    }
    marks
}

/// Whether two clocks are one mark.
pub(super) fn is_one(a: Angle, b: Angle) -> bool {
    let apart = (a - b).wrapped();
    apart.min(Angle::FULL - apart).degrees() < ONE_MARK
}

/// What is at the start and at the end of the pieces of one kind.
fn joints(run: &Run, kind: &Kind<'_>) -> (String, String) {
    let before: Vec<usize> = kind.numbers.iter().map(|n| n.saturating_sub(1)).collect();
    let name = |joints: &[usize], port: &str| {
        let is_port = |joint: &usize| {
            let joint = run.joints().get(*joint);
            joint.is_some_and(|joint| joint.kind == JointKind::Flange)
        };
        let (ports, between): (Vec<usize>, Vec<usize>) = joints.iter().partition(|j| is_port(j));
        let numbered = (!between.is_empty()).then(|| format!("joint {}", ranges(&between)));
        let port = (!ports.is_empty()).then(|| port.to_owned());
        port.into_iter()
            .chain(numbered)
            .collect::<Vec<_>>()
            .join(", ")
    };
    (
        name(&before, "the first port"),
        name(&kind.numbers, "the last port"),
    )
}

/// Rising numbers with neighbors run together: `2-5, 7`.
pub(super) fn ranges(numbers: &[usize]) -> String {
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for &n in numbers {
        match runs.last_mut() {
            Some((_, last)) if *last + 1 == n => *last = n,
            _ => runs.push((n, n)),
        }
    }
    let write = |&(first, last): &(usize, usize)| match last - first {
        0 => first.to_string(),
        1 => format!("{first}, {last}"),
        _ => format!("{first}-{last}"),
    };
    runs.iter().map(write).collect::<Vec<_>>().join(", ")
}

fn sizes(piece: &Piece, style: Style) -> String {
    format!(
        "long {}, center {}, short {}; cuts {} and {}, clock {}",
        style.length(piece.long_side()),
        style.length(piece.length()),
        style.length(piece.short_side()),
        style.angle(piece.start().angle),
        style.angle(piece.end().angle),
        style.clock(piece.clock()),
    )
}
