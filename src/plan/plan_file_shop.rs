//! What a plan's file says of the shop and of its fixed places: what a tack-up is made from.
//!
//! A plan that was written before these keys were known has none of them and takes what a
//! job would that says nothing.

use super::plan_file::{AGAIN, FileRun, Node, PlanFile, Reader};
use super::seam_plans::seam_plans;
use crate::geometry::{Level, Scatter};
use crate::run::Run;
use crate::shop::{
    Accuracy, CutList, Longer, SeamPlan, Seams, StickLayout, TackUp, Tacking, lay_out, marked_trim,
};
use crate::survey::Pin;
use crate::units::Angle;
use nalgebra::Matrix6;

/// Most pins: as many as a job may hold.
const MOST_PINS: usize = 200;
/// Cosine between 'up' and 'ahead' that rounding may leave.
const SQUARE: f64 = 1e-6;

impl PlanFile {
    /// How one of its runs is tacked up.
    pub fn tack_up(&self, run: &FileRun) -> TackUp {
        TackUp::new(&Tacking {
            run: &run.run,
            ports: [&run.ports[0], &run.ports[1]],
            accuracy: &self.accuracy,
            allowance: run.allowance,
            pins: &self.pins,
            closure: run.left_for_last,
            level: self.level,
        })
    }
}

impl PlanFile {
    /// All runs on the shop's sticks, one layout a tube; none where it has no sticks.
    pub fn layouts(&self) -> Vec<StickLayout> {
        let runs: Vec<&Run> = self.runs.iter().map(|file| &file.run).collect();
        lay_out(&runs, self.kerf, &self.stick_stock, &self.longer())
    }

    /// Every stick that comes to the saw, those of `layouts` among them.
    pub fn cut_list<'a>(&'a self, layouts: &'a [StickLayout]) -> CutList<'a> {
        let runs: Vec<&Run> = self.runs.iter().map(|file| &file.run).collect();
        CutList::new(&runs, self.kerf, layouts, &self.longer())
    }

    /// Pieces that are left for last and cut longer than planned.
    pub fn longer(&self) -> Vec<Longer> {
        let of = |(run, file): (usize, &FileRun)| {
            Some(Longer {
                run,
                piece: file.left_for_last?,
                by: marked_trim(file.trim?, self.style.unit),
            })
        };
        self.runs.iter().enumerate().filter_map(of).collect()
    }

    /// Names of all runs, in order.
    pub fn run_names(&self) -> Vec<&str> {
        self.runs.iter().map(|file| file.name.as_str()).collect()
    }

    /// Where the weld seams of every run come to lie, cut from the sticks of `layouts` or in
    /// order from one; none in seamless tube.
    pub fn seam_plans(&self, layouts: &[StickLayout]) -> Vec<Option<SeamPlan>> {
        let runs: Vec<(&Run, Option<Seams>)> = self
            .runs
            .iter()
            .map(|file| (&file.run, file.seams))
            .collect();
        seam_plans(&runs, layouts)
    }
}

impl Reader {
    /// How well the shop works.
    pub(super) fn accuracy(&mut self, root: &Node<'_>) -> Option<Accuracy> {
        let Some(node) = root.optional("accuracy") else {
            return Some(Accuracy::default());
        };
        let mut angle = |key: &str| self.angle(&node, key);
        let (cut, setting) = (angle("cut_deg"), angle("setting_deg"));
        let (clock, bend) = (angle("clock_deg"), angle("bend_deg"));
        let length = self.length(&node, "length_mm");
        Some(Accuracy {
            cut: cut?,
            setting: setting?,
            length: length?,
            clock: clock?,
            bend: bend?,
        })
    }

    fn angle(&mut self, node: &Node<'_>, key: &str) -> Option<Angle> {
        let node = self.child(node, key)?;
        self.number(&node).map(Angle::from_degrees)
    }

    /// Which way is up, and what headings count from.
    pub(super) fn level(&mut self, root: &Node<'_>) -> Option<Level> {
        let Some(node) = root.optional("level") else {
            return Some(Level::default());
        };
        let (up, ahead) = (self.direction(&node, "up"), self.direction(&node, "ahead"));
        let (up, ahead) = (up?, ahead?);
        if up.dot(&ahead).abs() > SQUARE {
            return self.fail(
                &node.path,
                "has an 'ahead' that is not square to 'up'",
                AGAIN,
            );
        }
        Some(Level { up, ahead })
    }

    /// Fixed places to measure from, by name.
    pub(super) fn pins(&mut self, root: &Node<'_>) -> Option<Vec<Pin>> {
        let Some(node) = root.optional("pins") else {
            return Some(Vec::new());
        };
        let Some(object) = node.value.as_object() else {
            return self.fail(&node.path, "must be an object", AGAIN);
        };
        if object.len() > MOST_PINS {
            let message = format!("holds {} pins, more than {MOST_PINS}", object.len());
            return self.fail(&node.path, message, AGAIN);
        }
        let pins: Vec<Option<Pin>> = object.keys().map(|name| self.pin(&node, name)).collect();
        pins.into_iter().collect()
    }

    fn pin(&mut self, pins: &Node<'_>, name: &str) -> Option<Pin> {
        let node = self.child(pins, name)?;
        if name.chars().any(char::is_control) {
            return self.fail(&node.path, "has a control character in its name", AGAIN);
        }
        let at = self.child(&node, "at_mm").and_then(|at| self.point(&at));
        let good_to = self.length(&node, "sigma_mm");
        Some(Pin {
            name: name.to_owned(),
            at: at?,
            good_to: good_to?,
        })
    }

    /// How well a port is known.
    pub(super) fn scatter(&mut self, port: &Node<'_>) -> Option<Scatter> {
        let Some(known) = port.optional("known") else {
            return Some(Scatter::none());
        };
        let path = known.path.key("covariance_mm_rad");
        let mut covariance = Matrix6::zeros();
        let rows = self.list(&known, "covariance_mm_rad")?;
        let message = "must be six rows of six numbers";
        if rows.len() != 6 {
            return self.fail(&path, message, AGAIN);
        }
        for (i, row) in rows.iter().enumerate() {
            let Some(values) = row.value.as_array().filter(|values| values.len() == 6) else {
                return self.fail(&row.path, message, AGAIN);
            };
            for (j, value) in values.iter().enumerate() {
                let path = row.path.index(j);
                covariance[(i, j)] = self.number(&Node { value, path })?;
            }
        }
        Some(Scatter::new(covariance))
    }

    /// How a run's weld seams should lie; none in seamless tube.
    pub(super) fn seams(&mut self, run: &Node<'_>) -> Option<Option<Seams>> {
        let Some(node) = run.optional("seams") else {
            // Said to be seamless, or not said at all.
            let said = run.value.get("seams").is_some();
            return Some((!said).then(Seams::default));
        };
        let word = self.text(&node, "lie")?;
        match Seams::from_word(&word) {
            Some(seams) => Some(Some(seams)),
            None => {
                let path = node.path.key("lie");
                self.fail(&path, format!("is {word:?}, which is no way to lie"), AGAIN)
            }
        }
    }
}
