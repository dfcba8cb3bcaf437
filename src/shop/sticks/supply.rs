//! [`Supply`]: sticks of one length and price, as many as there are.

use super::stock::StickStock;
use crate::tube::Tube;
use crate::units::Length;

/// Where a stick comes from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum StickSource {
    /// Bought: which of the stock's sticks.
    New {
        /// Its place in the list of sticks.
        stick: usize,
    },
    /// A leftover.
    Shelf {
        /// Its place in the list of leftovers.
        leftover: usize,
    },
    /// Missing: more than the shop has, or longer than it buys.
    Missing,
}

/// What is minimized, one after the other: length of sticks that are missing, money of
/// new ones, length of leftovers touched, and how many sticks there are.
pub(super) const LEVELS: usize = 4;

/// Sticks that are alike.
#[derive(Clone, Debug)]
pub(super) struct Supply {
    pub length: f64,
    /// How many there are.
    pub limit: u32,
    /// What one costs at each level.
    pub costs: [f64; LEVELS],
    /// What each is, as many as there are; the last again where there are more.
    pub sources: Vec<StickSource>,
}

impl Supply {
    fn new(length: Length, limit: u32, [missing, money, touched]: [f64; 3]) -> Self {
        Self {
            length: length.mm(),
            limit,
            costs: [missing, money, touched, 1.0],
            sources: Vec::new(),
        }
    }

    /// What the `nth` stick is, from 0.
    pub fn source(&self, nth: usize) -> StickSource {
        let source = self.sources.get(nth).or(self.sources.last());
        source.copied().unwrap_or(StickSource::Missing)
    }
}

/// All sticks that `tube` may be cut from; `shelf` are the leftovers that are its own,
/// and no more than `most` of any are ever needed.
pub(super) fn supplies(stock: &StickStock, tube: &Tube, shelf: &[usize], most: u32) -> Vec<Supply> {
    let mut supplies = on_shelf(stock, shelf);
    let own = stock.sticks.iter().enumerate();
    let own: Vec<_> = own.filter(|(_, stick)| stick.is_for(tube)).collect();
    let priced = own.iter().all(|(_, stick)| stick.price.is_some());
    for (number, stick) in own {
        let money = match stick.price {
            Some(price) if priced => price,
            _ => stick.length.mm(),
        };
        let limit = stick.count.unwrap_or(most).min(most);
        let source = StickSource::New { stick: number };
        let mut supply = Supply::new(stick.length, limit, [0.0, money, 0.0]);
        supply.sources.push(source);
        supplies.push(supply);
        if limit < most {
            let costs = [stick.length.mm(), money, 0.0];
            supplies.push(Supply::new(stick.length, most, costs));
        }
    }
    supplies
}

fn on_shelf(stock: &StickStock, shelf: &[usize]) -> Vec<Supply> {
    let mut supplies: Vec<Supply> = Vec::new();
    for &leftover in shelf {
        let length = stock.shelf[leftover].length;
        let source = StickSource::Shelf { leftover };
        match supplies.iter_mut().find(|s| s.length == length.mm()) {
            Some(supply) => {
                supply.limit += 1;
                supply.sources.push(source);
            }
            None => {
                let mut supply = Supply::new(length, 1, [0.0, 0.0, length.mm()]);
                supply.sources.push(source);
                supplies.push(supply);
            }
        }
    }
    supplies
}

/// A stick of `length` that the shop would need, beyond what it buys.
pub(super) fn longer(length: f64, most: u32) -> Supply {
    let length = Length::from_mm(length);
    Supply::new(length, most, [length.mm(), length.mm(), 0.0])
}
