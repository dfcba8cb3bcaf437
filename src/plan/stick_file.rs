//! What the shop cuts its tube from, read back from a plan.

use super::plan_file::{AGAIN, Node, Reader};
use crate::shop::{Leftover, StickStock, StockStick, StockTube};
use crate::units::Length;

/// Most lengths to buy and leftovers: as many as a job may hold.
const MOST_STICKS: usize = 200;
/// Greatest kerf, mm: what a job may hold too.
const MOST_KERF: f64 = 12.7;
/// Greatest price: what a job may hold too.
const MOST_PRICE: f64 = 1e9;

impl Reader {
    /// The stock, and what the saw takes. A plan that was written before there were sticks
    /// has none, and the kerf stands with its first run.
    pub(super) fn stick_stock(&mut self, root: &Node<'_>) -> Option<(StickStock, Length)> {
        if root.value.get("stick_stock").is_none() {
            let kerf = root.value.pointer("/runs/0/rates/kerf_mm");
            let kerf = kerf.and_then(|kerf| kerf.as_f64()).unwrap_or(0.0);
            let kerf = Length::from_mm(kerf.clamp(0.0, MOST_KERF));
            return Some((StickStock::default(), kerf));
        }
        let node = self.child(root, "stick_stock")?;
        let kerf = self.zero_or_more(&node, "kerf_mm");
        let least_leftover = self.zero_or_more(&node, "least_leftover_mm");
        let sticks = self.few(&node, "sticks")?;
        let sticks: Vec<_> = sticks.iter().map(|node| self.stock_stick(node)).collect();
        let shelf = self.few(&node, "shelf")?;
        let shelf: Vec<_> = shelf.iter().map(|node| self.leftover(node)).collect();
        let stock = StickStock {
            sticks: sticks.into_iter().collect::<Option<_>>()?,
            shelf: shelf.into_iter().collect::<Option<_>>()?,
            least_leftover: least_leftover?,
        };
        Some((stock, kerf?))
    }

    fn few<'a>(&mut self, node: &Node<'a>, key: &str) -> Option<Vec<Node<'a>>> {
        let list = self.list(node, key)?;
        if list.len() > MOST_STICKS {
            let message = format!("holds {}, but may hold {MOST_STICKS}", list.len());
            return self.fail(&node.path.key(key), message, AGAIN);
        }
        Some(list)
    }

    fn stock_stick(&mut self, node: &Node<'_>) -> Option<StockStick> {
        let count = match node.value.get("count").filter(|count| !count.is_null()) {
            None => None,
            Some(count) => match count.as_u64().and_then(|count| u32::try_from(count).ok()) {
                Some(count) => Some(count),
                None => {
                    let message = "is no count of sticks";
                    return self.fail(&node.path.key("count"), message, AGAIN);
                }
            },
        };
        Some(StockStick {
            length: self.above_zero(node, "length_mm")?,
            price: self.maybe(node, "price", Self::price)?,
            count,
            of: self.stock_tube(node)?,
        })
    }

    fn price(&mut self, node: &Node<'_>, key: &str) -> Option<f64> {
        let path = node.path.key(key);
        let price = node.value.get(key).and_then(|price| price.as_f64());
        price
            .filter(|price| (0.0..=MOST_PRICE).contains(price))
            .or_else(|| self.fail(&path, "is no price", AGAIN))
    }

    fn leftover(&mut self, node: &Node<'_>) -> Option<Leftover> {
        Some(Leftover {
            length: self.above_zero(node, "length_mm")?,
            of: self.stock_tube(node)?,
        })
    }

    fn stock_tube(&mut self, node: &Node<'_>) -> Option<StockTube> {
        Some(StockTube {
            od: self.maybe(node, "od_mm", Self::above_zero)?,
            wall: self.maybe(node, "wall_mm", Self::above_zero)?,
            material: self.maybe(node, "material", Self::text)?,
        })
    }

    /// What is under a key; nothing where there is no such key, or null.
    fn maybe<T>(
        &mut self,
        node: &Node<'_>,
        key: &str,
        read: impl FnOnce(&mut Self, &Node<'_>, &str) -> Option<T>,
    ) -> Option<Option<T>> {
        match node.value.get(key) {
            None => Some(None),
            Some(value) if value.is_null() => Some(None),
            Some(_) => read(self, node, key).map(Some),
        }
    }

    fn above_zero(&mut self, node: &Node<'_>, key: &str) -> Option<Length> {
        let length = self.length(node, key)?;
        if length <= Length::ZERO {
            return self.fail(&node.path.key(key), "is not more than 0", AGAIN);
        }
        Some(length)
    }

    fn zero_or_more(&mut self, node: &Node<'_>, key: &str) -> Option<Length> {
        let length = self.length(node, key)?;
        if length < Length::ZERO {
            return self.fail(&node.path.key(key), "is less than 0", AGAIN);
        }
        Some(length)
    }
}
