//! [`StickLayout`]: which pieces of one tube are cut from which sticks.

use super::blank::{Blank, blanks, kinds};
use super::cuts::cuts;
use super::cutting::{Cutting, FITS};
use super::faces::Faces;
use super::order::in_order;
use super::relax::relax;
use super::solve::{Filled, solve};
use super::stock::StickStock;
use super::supply::{LEVELS, StickSource, Supply, longer, supplies};
use crate::run::Run;
use crate::shop::saw::{Drops, Longer, SawCut};
use crate::shop::stack_up::{Accuracy, DEVIATIONS};
use crate::tube::Tube;
use crate::units::Length;
use std::cell::Cell;

/// Nodes of all searches for the most that one stick holds.
const MOST_NODES: usize = 2_000_000;
/// Costs that differ by less, relative to themselves, are equal: rounding.
const EQUAL: f64 = 1e-5;

/// The straight pieces of all runs of one tube on the sticks that a shop buys and has.
///
/// **What is least**, one after the other:
/// 1. the length of sticks that are missing: more than the stock's `count`, or longer
///    than it buys; none where there is enough;
/// 2. the money of new sticks: their prices, or, where not all sticks that this tube may
///    be cut from have one, their lengths;
/// 3. the length of the leftovers that are touched, each counted whole;
/// 4. how many sticks and leftovers are cut;
/// 5. of the layouts on the sticks that came out so, the longest single remnant is to be
///    long: the best within 0.1 mm, as far as the search goes.
///
/// **What a stick takes**, along its axis at its center: its pieces' cut lengths, kerf/cos κ
/// for each cut, and the wedges. Two pieces whose faces meet at one saw angle share one
/// cut; between different angles there are two, and a wedge of r·|tan κ₁ − tan κ₂|. A
/// stick's own end is square to look at but is no face: a cut at κ next to it takes
/// kerf/cos κ and r·tan κ, a square one just its kerf. So both ends of every piece are
/// sawn, and what is left is measured at its shortest side. The order on the stick, with
/// pieces turned end for end where that helps, is one that wastes least.
///
/// **Proof.** `least` is a bound that holds for every layout; where it equals `found` the
/// layout is proven best by 1 to 4. All work is bounded by counts of nodes, so the same
/// input gives the same layout; past the bounds the best found is given, and the gap.
#[derive(Clone, Debug, PartialEq)]
pub struct StickLayout {
    /// The tube.
    pub tube: Tube,
    /// Sticks in order: from the shelf, new, missing.
    pub sticks: Vec<Stick>,
    /// Pieces that no stick and no leftover is long enough for.
    pub too_long: Vec<TooLong>,
    /// What the layout costs.
    pub found: LayoutCost,
    /// What every layout costs at least.
    pub least: LayoutCost,
    /// Whether money counts by prices, and not by length.
    pub priced: bool,
    /// The longest remnant that any layout on these sticks can leave.
    pub longest_possible: Length,
}

/// What is least, in order.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct LayoutCost {
    /// Length of sticks that are missing.
    pub missing: Length,
    /// Money of new sticks, missing ones too; mm of them where sticks have no prices.
    pub money: f64,
    /// Length of leftovers that are cut.
    pub touched: Length,
    /// Sticks and leftovers that are cut.
    pub sticks: u32,
}

/// A stick and what is cut from it.
#[derive(Clone, Debug, PartialEq)]
pub struct Stick {
    /// Where it comes from.
    pub source: StickSource,
    /// Its length.
    pub length: Length,
    /// Cuts in order, from its free end.
    pub cuts: Vec<SawCut>,
    /// What is left of it, at the shortest side.
    pub remnant: Length,
    /// Whether the remnant is worth putting back on the shelf.
    pub kept: bool,
}

/// A piece that no stick is long enough for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TooLong {
    /// Which of the runs, from 0.
    pub run: usize,
    /// Its number in the run, from 1.
    pub piece: usize,
    /// What a stick must measure at least; or cut it in two and weld it square.
    pub needs: Length,
}

impl Stick {
    /// Pieces that are cut from it: run from 0, piece from 1, in order.
    pub fn pieces(&self) -> impl Iterator<Item = (usize, usize)> {
        self.cuts.iter().filter_map(|cut| match cut.drops {
            Drops::Piece { run, piece, .. } => Some((run, piece)),
            Drops::End | Drops::Wedge => None,
        })
    }

    /// Sum of its pieces' lengths at their centers.
    pub fn used(&self) -> Length {
        let pieces = self.cuts.iter().filter(|cut| cut.piece().is_some());
        pieces.map(|cut| cut.length).sum()
    }

    /// How much more than planned its cuts may use up together: three deviations, each cut
    /// off by what lengths are good to, √n·σ.
    pub fn reserve(&self, accuracy: &Accuracy) -> Length {
        accuracy.length * (DEVIATIONS * (self.cuts.len() as f64).sqrt())
    }

    /// What all its cuts turn to chips, along its axis.
    pub fn kerf_loss(&self) -> Length {
        self.cuts.iter().map(|cut| cut.kerf).sum()
    }

    /// Wedges, the slanted ends among them: all that is neither used, kerf nor remnant.
    pub fn wedge_loss(&self) -> Length {
        (self.length - self.used() - self.kerf_loss() - self.remnant).max(Length::ZERO)
    }
}

impl StickLayout {
    /// The one for `tube`, if it is cut from the shop's sticks.
    pub fn of<'a>(layouts: &'a [Self], tube: &Tube) -> Option<&'a Self> {
        layouts.iter().find(|layout| layout.tube == *tube)
    }

    /// Whether no layout is better by what counts.
    pub fn is_proven(&self) -> bool {
        self.buys_least()
            && is_least(self.found.touched.mm(), self.least.touched.mm())
            && self.found.sticks <= self.least.sticks
    }

    /// Whether no layout misses or buys less.
    pub fn buys_least(&self) -> bool {
        is_least(self.found.missing.mm(), self.least.missing.mm())
            && is_least(self.found.money, self.least.money)
    }

    /// How much of the money a better layout might save at most, from 0 to 1.
    pub fn gap(&self) -> f64 {
        if self.found.money <= 0.0 {
            return 0.0;
        }
        ((self.found.money - self.least.money) / self.found.money).clamp(0.0, 1.0)
    }

    /// Length of new sticks, missing ones too.
    pub fn bought(&self) -> Length {
        let bought = self.sticks.iter().filter(|stick| !stick.source.is_shelf());
        bought.map(|stick| stick.length).sum()
    }

    /// Sum over its sticks.
    pub fn sum(&self, of: impl Fn(&Stick) -> Length) -> Length {
        self.sticks.iter().map(of).sum()
    }

    /// The longest remnant.
    pub fn longest_remnant(&self) -> Length {
        let remnants = self.sticks.iter().map(|stick| stick.remnant);
        remnants.fold(Length::ZERO, Length::max)
    }

    /// What is neither used nor kept: kerf, wedges, and remnants that are too short.
    pub fn waste(&self) -> Length {
        self.sum(|stick| {
            let kept = if stick.kept {
                stick.remnant
            } else {
                Length::ZERO
            };
            stick.length - stick.used() - kept
        })
    }
}

impl StickSource {
    /// Whether it is a leftover.
    pub const fn is_shelf(self) -> bool {
        matches!(self, Self::Shelf { .. })
    }
}

/// Whether a cost is the least, but for rounding.
fn is_least(found: f64, least: f64) -> bool {
    found - least <= EQUAL * found.abs().max(1.0)
}

/// Lays the straight pieces of `runs` out on the stock's sticks, tube by tube in the
/// order of their first runs; a saw takes `kerf`. Nothing where the stock has no sticks
/// to buy, nothing for a tube that none of them is, and nothing for a kerf that is no
/// length. Sticks and leftovers whose lengths or prices are no such numbers are not there.
/// Pieces that are to be cut `longer` than planned take that much more.
///
/// A leftover that may be of several tubes goes to the first.
pub fn lay_out(
    runs: &[&Run],
    kerf: Length,
    stock: &StickStock,
    longer: &[Longer],
) -> Vec<StickLayout> {
    if !kerf.is_finite() || kerf < Length::ZERO {
        return Vec::new();
    }
    let mut tubes: Vec<&Tube> = Vec::new();
    for run in runs {
        if !tubes.contains(&run.tube()) {
            tubes.push(run.tube());
        }
    }
    tubes.retain(|tube| stock.sticks.iter().any(|stick| stick.is_for(tube)));
    let mut shelves = vec![Vec::new(); tubes.len()];
    for (leftover, own) in stock.shelf.iter().enumerate() {
        if let Some(tube) = tubes.iter().position(|tube| own.is_for(tube)) {
            shelves[tube].push(leftover);
        }
    }
    let of = |tube: &Tube| {
        let runs = runs.iter().copied().enumerate();
        let own: Vec<(usize, &Run)> = runs.filter(|(_, run)| run.tube() == tube).collect();
        own
    };
    tubes
        .iter()
        .zip(&shelves)
        .map(|(tube, shelf)| one(tube, (&of(tube), longer), kerf, stock, shelf))
        .collect()
}

/// The layout of one tube.
fn one(
    tube: &Tube,
    (runs, longer): (&[(usize, &Run)], &[Longer]),
    kerf: Length,
    stock: &StickStock,
    shelf: &[usize],
) -> StickLayout {
    let (mut blanks, faces) = blanks(runs, kerf, longer);
    let most = u32::try_from(blanks.len()).unwrap_or(u32::MAX);
    let mut supplies = supplies(stock, tube, shelf, most);
    let too_long = part_too_long(&mut blanks, &faces, &mut supplies);
    let (mut kinds, pairs) = kinds(&blanks, &faces);
    let longest = supplies.iter().map(|s| s.length).fold(0.0, f64::max);
    let ends = relax(&mut kinds, &pairs, &faces, longest);
    let lightest = kinds.iter().map(|k| k.weight).fold(f64::INFINITY, f64::min);
    supplies.retain(|supply| supply.length >= lightest);
    let cutting = Cutting {
        blanks: &blanks,
        faces: &faces,
        pairs: &pairs,
        kinds: &kinds,
        supplies: &supplies,
        ends,
        nodes: Cell::new(MOST_NODES),
    };
    let solved = match blanks.is_empty() {
        true => None,
        false => solve(&cutting),
    };
    let (filled, least, longest) = match solved {
        Some(solved) => (solved.sticks, solved.least, solved.longest),
        None => (Vec::new(), [0.0; LEVELS], 0.0),
    };
    let found = cost(&supplies, &filled);
    let own = stock.sticks.iter().filter(|stick| stick.is_for(tube));
    StickLayout {
        tube: tube.clone(),
        sticks: sticks(&cutting, filled, tube, stock.least_leftover),
        too_long,
        found: found.into(),
        least: least.into(),
        priced: own.into_iter().all(|stick| stick.price.is_some()),
        longest_possible: Length::from_mm(longest),
    }
}

/// Takes out the pieces that no supply is long enough for. For those that only a
/// leftover is long enough for, a longer stick is one that would be missing.
fn part_too_long(
    blanks: &mut Vec<Blank>,
    faces: &Faces,
    supplies: &mut Vec<Supply>,
) -> Vec<TooLong> {
    let needs = |blank: &Blank| {
        let [a, b] = blank.faces.map(Some);
        let cuts = faces.half(a) + faces.half(b);
        blank.length.mm() + cuts + faces.jump(None, a) + faces.jump(b, None)
    };
    let longest = |of: &dyn Fn(&Supply) -> bool| {
        let lengths = supplies.iter().filter(|s| of(s)).map(|s| s.length);
        lengths.fold(0.0, f64::max)
    };
    let any = longest(&|_| true);
    let bought = longest(&|supply| supply.costs[2] <= 0.0);
    let most = u32::try_from(blanks.len()).unwrap_or(u32::MAX);
    let mut too_long = Vec::new();
    let mut missing: f64 = 0.0;
    blanks.retain(|blank| {
        let needed = needs(blank);
        if needed > any + FITS {
            too_long.push(TooLong {
                run: blank.run,
                piece: blank.piece,
                needs: Length::from_mm(needed),
            });
            return false;
        }
        if needed > bought + FITS {
            missing = missing.max(needed);
        }
        true
    });
    if missing > 0.0 {
        supplies.push(longer(missing, most));
    }
    too_long
}

fn cost(supplies: &[Supply], filled: &[Filled]) -> [f64; LEVELS] {
    let mut cost = [0.0; LEVELS];
    for stick in filled {
        for (sum, own) in cost.iter_mut().zip(supplies[stick.supply].costs) {
            *sum += own;
        }
    }
    cost
}

impl From<[f64; LEVELS]> for LayoutCost {
    fn from([missing, money, touched, sticks]: [f64; LEVELS]) -> Self {
        Self {
            missing: Length::from_mm(missing),
            money,
            touched: Length::from_mm(touched),
            sticks: sticks.round().max(0.0) as u32,
        }
    }
}

/// Gives each stick its own pieces, puts them in order and cuts them.
fn sticks(
    cutting: &Cutting<'_>,
    mut filled: Vec<Filled>,
    tube: &Tube,
    least_leftover: Length,
) -> Vec<Stick> {
    // Shelf before new before missing; of alike sticks the one with the heaviest pieces.
    let rank = |stick: &Filled| {
        let [missing, _, touched, _] = cutting.supplies[stick.supply].costs;
        (missing > 0.0, touched <= 0.0, stick.supply)
    };
    filled.retain(|stick| stick.counts.iter().any(|&count| count > 0));
    filled.sort_by(|a, b| rank(a).cmp(&rank(b)).then(b.counts.cmp(&a.counts)));
    let mut next = vec![0; cutting.kinds.len()];
    let mut nth = vec![0; cutting.supplies.len()];
    filled
        .iter()
        .map(|stick| {
            let supply = &cutting.supplies[stick.supply];
            let source = supply.source(nth[stick.supply]);
            nth[stick.supply] += 1;
            let mut own = Vec::new();
            for (kind, &count) in stick.counts.iter().enumerate() {
                let from: usize = next[kind];
                next[kind] += count as usize;
                own.extend(&cutting.kinds[kind].blanks[from..next[kind]]);
            }
            own.sort_unstable();
            let laid = in_order(cutting, &own);
            let cuts = cuts(cutting, &laid, tube.radius());
            let length = Length::from_mm(supply.length);
            let remnant = length - taken(&cuts, tube.radius());
            let remnant = remnant.max(Length::ZERO);
            Stick {
                source,
                length,
                cuts,
                remnant,
                kept: remnant >= least_leftover,
            }
        })
        .collect()
}

/// What the cuts take of a stick, up to the farthest side of the last.
fn taken(cuts: &[SawCut], radius: Length) -> Length {
    let feeds: Length = cuts.iter().map(|cut| cut.feed).sum();
    let slant = cuts.last().map(|cut| radius * cut.angle.tan());
    feeds + slant.unwrap_or_default()
}
