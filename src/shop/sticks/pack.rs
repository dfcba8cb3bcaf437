//! [`Packer`]: whether pieces go into given sticks, and how.

use super::cutting::{Cutting, FITS};
use super::trail::Trails;
use std::collections::BTreeSet;

/// Deepest search, in sticks times kinds, that is taken on: it goes down a call for each.
const DEEPEST: usize = 2_000;

/// What a look counts, in nodes, where faces of several angles make trails to be worked
/// out.
const TRAIL_NODES: usize = 4;

/// What came of packing.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Packed {
    /// How many of each kind go into each stick.
    Yes(Vec<Vec<u32>>),
    /// They do not go in.
    No,
    /// Not found, and not refused within the work allowed.
    Unknown,
}

/// Fills stick by stick with choices that nothing can be added to, and turns back where
/// the sticks that are left would hold too little (bin completion: Gent, Journal of
/// Artificial Intelligence Research 9, 1998; Korf, AAAI 2002, from memory). What failed
/// once is not tried again.
///
/// That only full choices are tried loses nothing: a piece takes no less of a stick than
/// the jump between its faces, because its inside is longer than zero, so pieces can
/// move to an earlier stick that has room for them.
#[derive(Debug)]
pub(super) struct Packer<'a> {
    cutting: &'a Cutting<'a>,
    /// Their lengths, in the order in which they are filled.
    lengths: Vec<f64>,
    /// The most that each can hold.
    most: Vec<f64>,
    trails: Trails<'a>,
    nodes: usize,
    /// What one look counts.
    look: usize,
    failed: BTreeSet<(usize, Vec<u32>)>,
    /// Whether something was refused that may exist.
    doubt: bool,
    chosen: Vec<Vec<u32>>,
}

/// Whether a search goes on.
#[derive(Clone, Copy, PartialEq)]
enum Ended {
    Found,
    Failed,
    OutOfWork,
}

impl<'a> Packer<'a> {
    /// For sticks of `lengths`, in the order in which they are filled.
    pub fn new(cutting: &'a Cutting<'a>, lengths: Vec<f64>) -> Self {
        let weights = cutting.weights();
        let mut most: Vec<f64> = Vec::with_capacity(lengths.len());
        for (i, &length) in lengths.iter().enumerate() {
            let known = (i > 0 && lengths[i - 1] == length).then(|| most[i - 1]);
            most.push(known.unwrap_or_else(|| cutting.best_fill(&weights, length, FITS).bound));
        }
        Self {
            cutting,
            lengths,
            most,
            trails: cutting.trails(),
            nodes: 0,
            look: match cutting.is_of_one_face() {
                true => 1,
                false => TRAIL_NODES,
            },
            failed: BTreeSet::new(),
            doubt: false,
            chosen: Vec::new(),
        }
    }

    /// Whether all pieces go in; looks at no more than `nodes` choices, and takes what it
    /// looked at off them.
    pub fn pack(mut self, nodes: &mut usize) -> Packed {
        if self.lengths.len() * self.cutting.kinds.len() > DEEPEST {
            return Packed::Unknown;
        }
        self.nodes = *nodes;
        let mut left = self.cutting.counts();
        let ended = self.stick(0, &mut left);
        *nodes = self.nodes;
        match ended {
            Ended::Found => {
                self.chosen.resize(self.lengths.len(), vec![0; left.len()]);
                Packed::Yes(self.chosen)
            }
            Ended::Failed if !self.doubt => Packed::No,
            Ended::Failed | Ended::OutOfWork => Packed::Unknown,
        }
    }

    /// Fills the sticks from `number` on with what is `left`.
    fn stick(&mut self, number: usize, left: &mut Vec<u32>) -> Ended {
        if left.iter().all(|&count| count == 0) {
            return Ended::Found;
        }
        let Some(&length) = self.lengths.get(number) else {
            return Ended::Failed;
        };
        let spare = self.most[number..].iter().sum::<f64>() - self.cutting.weight(left);
        if spare < -FITS || self.failed.contains(&(number, left.clone())) {
            return Ended::Failed;
        }
        let mut fill = Fill {
            number,
            length,
            room: self.cutting.room(length),
            least: self.most[number] - spare - FITS,
            // Where all sticks that are left are alike, the first takes the first piece.
            first: self.lengths[number..].iter().all(|&other| other == length),
            counts: vec![0; left.len()],
        };
        let ended = self.kind(0, 0.0, &mut fill, left);
        if ended == Ended::Failed {
            self.failed.insert((number, left.clone()));
        }
        ended
    }

    /// Chooses how many of the kinds from `kind` on go into a stick.
    fn kind(&mut self, kind: usize, weight: f64, fill: &mut Fill, left: &mut Vec<u32>) -> Ended {
        let Some(nodes) = self.nodes.checked_sub(self.look) else {
            self.nodes = 0;
            return Ended::OutOfWork;
        };
        self.nodes = nodes;
        let room = fill.room - weight;
        let rest = || {
            let kinds = self.cutting.kinds[kind..].iter().zip(&left[kind..]);
            let fitting = kinds.filter(|(kind, _)| kind.weight <= room);
            fitting
                .map(|(kind, &n)| kind.weight * f64::from(n))
                .sum::<f64>()
        };
        if weight + rest().min(room) < fill.least {
            return Ended::Failed;
        }
        let Some(own) = self.cutting.kinds.get(kind).map(|kind| kind.weight) else {
            return self.full(weight, fill, left);
        };
        let most = left[kind].min((room / own).max(0.0) as u32);
        let least = u32::from(fill.first && left[kind] > 0);
        let first = fill.first;
        fill.first = first && left[kind] == 0;
        let mut ended = Ended::Failed;
        for count in (least..=most).rev() {
            fill.counts[kind] = count;
            left[kind] -= count;
            if count == 0 || self.fits(fill) {
                ended = self.kind(kind + 1, weight + own * f64::from(count), fill, left);
            }
            left[kind] += count;
            if ended != Ended::Failed {
                return ended;
            }
        }
        fill.counts[kind] = 0;
        fill.first = first;
        ended
    }

    /// Goes on to the next stick, if nothing more goes into this one.
    fn full(&mut self, weight: f64, fill: &mut Fill, left: &mut Vec<u32>) -> Ended {
        let room = fill.room - weight;
        for (kind, &count) in left.iter().enumerate() {
            if count == 0 || self.cutting.kinds[kind].weight > room {
                continue;
            }
            fill.counts[kind] += 1;
            let fits = self.fits(fill);
            fill.counts[kind] -= 1;
            if fits {
                return Ended::Failed;
            }
        }
        self.chosen.push(fill.counts.clone());
        let ended = self.stick(fill.number + 1, left);
        if ended != Ended::Found {
            self.chosen.pop();
        }
        ended
    }

    /// Whether a stick holds what was chosen for it, wedges and all.
    fn fits(&mut self, fill: &Fill) -> bool {
        if self.cutting.is_of_one_face() {
            // All faces are alike: the room is exact.
            return true;
        }
        let [found, least] = self.cutting.taken(&mut self.trails, &fill.counts);
        let fits = found <= fill.length + FITS;
        self.doubt |= !fits && least <= fill.length + FITS;
        fits
    }
}

/// A stick that is being filled.
struct Fill {
    number: usize,
    length: f64,
    room: f64,
    /// What it must hold at least, or the others cannot hold the rest.
    least: f64,
    /// Whether it must take one of the first kind that there is.
    first: bool,
    counts: Vec<u32>,
}
