//! [`Layout`]: a route as numbers that an optimizer may choose, and what holds
//! them back.
//!
//! Variables, in the field's units: s and t, how far the first and last corner lie out
//! along their ports' axes; three coordinates for each corner between; then what is
//! open: CLRs within a range, a shared cut angle, and where free ports stand and point.

use super::choice::{Choice, CutRule, MAX_BENDS, Making};
use super::field::{Field, Radius};
use super::limits::MAX_TURN;
use super::term::{ScanPart, Term};
use crate::geometry::Vector;
use crate::scene::Body;
use crate::units::Length;

/// One family of routes: how each bend is made, and what is to be made least.
#[derive(Clone, Debug)]
pub(super) struct Layout<'a> {
    field: &'a Field<'a>,
    choice: Choice,
    aim: Aim,
    places: Places,
    terms: Vec<Term>,
    has_room: bool,
    /// What the exact margins to scans are above those by the map, in units, part by part.
    corrections: Vec<f64>,
}

/// What a search makes least, beside the centerline's length.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Aim {
    /// Length, in units, that one radian of turn is worth: what makes a search for
    /// true arcs find routes of few joints as well as short ones.
    pub per_radian: f64,
    /// A length that is wished for, in units, and what a unit off it is worth.
    pub wish: Option<(f64, f64)>,
    /// What making costs beside the length, in units of length.
    pub making: Worth,
}

/// What making costs, in units of length that cost as much.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Worth {
    /// A radius of weld.
    pub weld: f64,
    /// Tube that a square joint takes beside its pieces' edges.
    pub joint: f64,
    /// The part of a unit of centerline that need not be bought in a stock bend.
    pub stock: f64,
}

/// Where variables stand.
#[derive(Clone, Debug)]
pub(super) struct Places {
    pub radii: [Option<usize>; MAX_BENDS],
    pub cut: Option<usize>,
    pub ends: [usize; 2],
    pub count: usize,
}

/// A choice of variables that does not depend on how bends are made.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Guess {
    /// s and t.
    pub reaches: [f64; 2],
    /// Corners between the first and the last.
    pub between: Vec<Vector>,
    /// CLR of each bend.
    pub radii: Vec<f64>,
    /// Shared cut angle, rad.
    pub cut: f64,
    /// Variables of each end.
    pub ends: [Vec<f64>; 2],
}

/// Parts of a leg that keep clear of a scan each for itself.
const LEG_PARTS: usize = 7;
/// Most such parts of a bend.
const BEND_PARTS: usize = 3;
/// How exactly a search meets scans: half of what the check allows.
const ROUGH_EDGE: Length = Length::from_mm(5e-4);

impl Guess {
    /// Corners alone; the rest at what is usual.
    pub fn at(field: &Field<'_>, reaches: [f64; 2], between: Vec<Vector>) -> Self {
        Self {
            reaches,
            between,
            radii: Vec::new(),
            cut: field.limits.usual_cut.radians(),
            ends: [0, 1].map(|end| vec![0.0; field.ends[end].variables()]),
        }
    }
}

impl<'a> Layout<'a> {
    pub fn new(field: &'a Field<'a>, choice: Choice, aim: Aim) -> Self {
        let places = places(field, &choice);
        let task = field.task;
        let mut layout = Self {
            field,
            has_room: !task.obstacles.is_empty(),
            choice,
            aim,
            places,
            terms: Vec::new(),
            corrections: Vec::new(),
        };
        layout.terms = layout.list_terms();
        let scan_parts = layout.scan_parts().count();
        layout.corrections = vec![0.0; scan_parts];
        layout
    }

    /// The parts that keep clear of scans.
    pub fn scan_parts(&self) -> impl Iterator<Item = &ScanPart> {
        self.terms.iter().filter_map(|term| match term {
            Term::ClearScan(part) => Some(part),
            _ => None,
        })
    }

    /// What the exact margin of a part to its scan is above that by the map, in units.
    pub fn correction(&self, slot: usize) -> f64 {
        self.corrections[slot]
    }

    /// Takes `correction` for a part.
    pub fn set_correction(&mut self, slot: usize, correction: f64) {
        self.corrections[slot] = correction;
    }

    /// How well a margin keeps its term, see [`Term::kept`]. The edges of a scan, where
    /// one of its parts takes over from another, are met to within what the check allows.
    pub fn kept(&self, term: &Term, margin: f64) -> f64 {
        let kept = term.kept(margin);
        match term {
            Term::ClearScan(_) => kept + self.field.units(ROUGH_EDGE),
            _ => kept,
        }
    }

    /// Change of the objective, in units, that is none among such edges.
    pub fn still(&self) -> f64 {
        if self.corrections.is_empty() {
            0.0
        } else {
            self.field.units(ROUGH_EDGE)
        }
    }

    /// The same layout, kept clear of itself as well.
    pub fn clear_of_itself(mut self) -> Self {
        self.has_room = true;
        self.terms.push(Term::SelfClear);
        self
    }

    pub const fn field(&self) -> &'a Field<'a> {
        self.field
    }

    pub const fn aim(&self) -> &Aim {
        &self.aim
    }

    pub const fn choice(&self) -> &Choice {
        &self.choice
    }

    pub const fn places(&self) -> &Places {
        &self.places
    }

    pub fn terms(&self) -> &[Term] {
        &self.terms
    }

    /// Number of bends.
    pub fn bends(&self) -> usize {
        self.choice.bends.len()
    }

    /// Whether what is built must be known, not only its corners.
    pub const fn has_room(&self) -> bool {
        self.has_room
    }

    pub fn tube_radius(&self) -> f64 {
        self.field.tube_radius()
    }

    /// Units that a radian of turn counts as among the margins: arc length at the
    /// least CLR, so that turns and lengths compare.
    pub fn turn_scale(&self) -> f64 {
        self.field.units(self.field.limits.clr_min)
    }

    /// CLR of bend `i` where it is no variable, in units.
    pub fn radius(&self, i: usize) -> f64 {
        match self.choice.bends[i] {
            Making::Arc { radius } | Making::Pies { radius, .. } => {
                self.field.radii[radius].least()
            }
            Making::Stock { item, .. } => self.field.units(self.field.task.stock[item].clr),
        }
    }

    fn list_terms(&self) -> Vec<Term> {
        let (field, k) = (self.field, self.bends());
        let mut terms = Vec::new();
        if k < 2 {
            terms.extend((0..3).map(|axis| Term::Closed { axis }));
        }
        if k == 0 {
            terms.extend((0..3).map(|axis| Term::Facing { axis }));
        }
        for leg in 0..=k {
            let least = match leg {
                _ if k == 0 => 0.0,
                0 => field.ends[0].straight,
                leg if leg == k => field.ends[1].straight,
                _ => field.units(field.limits.min_between),
            };
            terms.push(Term::Straight { leg, least });
            let beside = [leg.checked_sub(1), (leg < k).then_some(leg)];
            if beside
                .iter()
                .flatten()
                .any(|&bend| self.choice.bends[bend].is_pies())
            {
                let least = field.units(field.limits.min_short_side);
                terms.push(Term::ShortSide { leg, least });
            }
        }
        for bend in 0..k {
            self.list_bend(bend, &mut terms);
        }
        for (end, port) in field.ends.iter().enumerate() {
            for slide in 0..port.slides.len() {
                terms.extend([false, true].map(|ahead| Term::Slide { end, slide, ahead }));
            }
            if port.lean > 0.0 {
                terms.push(Term::Cone { end });
            }
        }
        self.list_clear(&mut terms);
        for (pass, &leg) in self.choice.pass_legs.iter().enumerate() {
            terms.extend([
                Term::PassRoom { leg, pass },
                Term::PassAfter { leg, pass },
                Term::PassBefore { leg, pass },
            ]);
        }
        terms
    }

    /// Every leg and every bend clear of every obstacle: legs first.
    fn list_clear(&self, terms: &mut Vec<Term>) {
        let mut legs = vec![(0, 1)];
        let mut bends = Vec::new();
        for making in &self.choice.bends {
            let (_, first) = legs[legs.len() - 1];
            let last = first + making.vertices() - 1;
            bends.push((first, last));
            legs.push((last, last + 1));
        }
        let edges: Vec<(usize, usize)> = legs.into_iter().chain(bends).collect();
        let mut slot = 0;
        for (i, obstacle) in self.field.task.obstacles.iter().enumerate() {
            for (at, &(first, last)) in edges.iter().enumerate() {
                match obstacle.body {
                    Body::Solid(_) => terms.push(Term::Clear {
                        first,
                        last,
                        obstacle: i,
                    }),
                    Body::Scan(_) => {
                        let parts = scan_parts(i, [first, last], at <= self.bends(), &mut slot);
                        terms.extend(parts.map(Term::ClearScan));
                    }
                }
            }
        }
    }

    fn list_bend(&self, bend: usize, terms: &mut Vec<Term>) {
        let field = self.field;
        match self.choice.bends[bend] {
            Making::Arc { .. } => terms.push(Term::TurnAtMost {
                bend,
                most: MAX_TURN.radians(),
            }),
            Making::Stock { item, whole } => {
                let turn = field.task.stock[item].turn.radians();
                terms.push(if whole {
                    Term::TurnIs { bend, turn }
                } else {
                    Term::TurnAtMost { bend, most: turn }
                });
            }
            Making::Pies {
                joints,
                cut,
                radius,
            } => {
                let cuts = 2.0 * f64::from(joints);
                // Where the CLR is no variable, neither is the greatest turn.
                let limit = match field.radii[radius] {
                    Radius::Between(..) => Term::Turn { bend },
                    Radius::Only(radius) => Term::TurnAtMost {
                        bend,
                        most: field.greatest_turn(joints, radius),
                    },
                };
                terms.push(match cut {
                    CutRule::Free => limit,
                    CutRule::Shared => Term::TurnShared { bend, cuts },
                    CutRule::Listed(i) => Term::TurnIs {
                        bend,
                        turn: field.task.saw_angles[i].radians() * cuts,
                    },
                });
                if cut == CutRule::Shared {
                    terms.push(limit);
                }
                if joints > 1 {
                    let least = field.units(field.limits.min_short_side);
                    terms.push(Term::PieShort { bend, least });
                }
            }
        }
        if let Making::Arc { radius } | Making::Pies { radius, .. } = self.choice.bends[bend]
            && let Radius::Between(least, most) = field.radii[radius]
        {
            terms.push(Term::ClrLeast { bend, least });
            terms.push(Term::ClrMost { bend, most });
        }
    }

    /// The variables at a guess, and where it does not say, at what is usual.
    pub fn pack(&self, guess: &Guess) -> Vec<f64> {
        let mut x = vec![0.0; self.places.count];
        x[..2].copy_from_slice(&guess.reaches);
        for (i, corner) in guess.between.iter().enumerate() {
            x[2 + 3 * i..5 + 3 * i].copy_from_slice(corner.as_slice());
        }
        for (bend, place) in self.places.radii.iter().enumerate() {
            if let Some(place) = *place {
                let known = guess.radii.get(bend).copied();
                x[place] = known.unwrap_or_else(|| self.radius(bend));
            }
        }
        if let Some(place) = self.places.cut {
            x[place] = guess.cut;
        }
        for (end, from) in self.places.ends.into_iter().enumerate() {
            for (slot, value) in x[from..].iter_mut().zip(&guess.ends[end]) {
                *slot = *value;
            }
        }
        x
    }

    /// The bends before and after a leg.
    pub fn bends_beside(&self, leg: usize) -> [Option<usize>; 2] {
        [leg.checked_sub(1), (leg < self.bends()).then_some(leg)]
    }
}

/// The parts of a leg or a bend that keep clear of a scan.
fn scan_parts(
    obstacle: usize,
    [first, last]: [usize; 2],
    is_leg: bool,
    slot: &mut usize,
) -> impl Iterator<Item = ScanPart> {
    let count = if is_leg {
        LEG_PARTS
    } else {
        BEND_PARTS.min(last - first)
    };
    let slots = *slot;
    *slot += count;
    (0..count).map(move |i| {
        let share = |i: usize| first + (last - first) * i / count;
        let (edges, span) = if is_leg {
            let part = |i: usize| i as f64 / count as f64;
            ([first, last], [part(i), part(i + 1)])
        } else {
            ([share(i), share(i + 1)], [0.0, 1.0])
        };
        ScanPart {
            first: edges[0],
            last: edges[1],
            is_leg,
            span,
            obstacle,
            slot: slots + i,
        }
    })
}

fn places(field: &Field<'_>, choice: &Choice) -> Places {
    let k = choice.bends.len();
    let mut count = 2 + 3 * k.saturating_sub(2);
    let mut radii = [None; MAX_BENDS];
    let shared = choice.is_shared();
    let mut first_radius = None;
    for (slot, making) in radii.iter_mut().zip(&choice.bends) {
        if let Making::Arc { radius } | Making::Pies { radius, .. } = making
            && let Radius::Between(..) = field.radii[*radius]
        {
            // Bends that share a cut share the CLR too: then all pies are of one length.
            if let (true, Some(place)) = (shared, first_radius) {
                *slot = Some(place);
                continue;
            }
            *slot = Some(count);
            first_radius = first_radius.or(*slot);
            count += 1;
        }
    }
    let cut = shared.then_some(count);
    count += usize::from(shared);
    let ends = [count, count + field.ends[0].variables()];
    Places {
        radii,
        cut,
        ends,
        count: ends[1] + field.ends[1].variables(),
    }
}
