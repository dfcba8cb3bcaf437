//! What is in the way and what to go through: the file's bodies and passes, checked.

use super::file::SlideFile;
use super::file_values::{BoxFile, Quantity};
use super::path::Path;
use super::run_file::PassFile;
use super::scan::ScanOrder;
use super::scene_file::{BodyFile, SceneFile};
use super::values::{Reader, Sign};
use crate::geometry::Plane;
use crate::route::Pass;
use crate::run::{Freedom, Port, Slide};
use crate::scene::{Body, Obstacle, Side, Solid};
use crate::tube::Tube;
use crate::units::{Angle, Length};
use std::collections::BTreeMap;

/// Distance kept from what is in the way unless the job says otherwise: room for a hand
/// and for engines that move on their mounts (common practice, no source).
pub const DEFAULT_CLEARANCE: Length = Length::from_inches(0.375);

/// Most bodies of each kind, and most passes of a run.
const MAX_BODIES: usize = 200;

/// Most passes of one run: legs are shared out among them one by one.
const MAX_PASSES: usize = 5;

impl Reader<'_> {
    /// Keep-outs, then keep-ins; and the scans to be read.
    pub(super) fn scene(
        &mut self,
        file: Option<&SceneFile>,
        path: &Path,
        ports: &BTreeMap<String, Option<Port>>,
    ) -> Option<(Vec<Obstacle>, Vec<ScanOrder>)> {
        let Some(file) = file else {
            return Some((Vec::new(), Vec::new()));
        };
        let clearance = self.length_or(
            &file.clearance,
            &path.key("clearance"),
            Sign::NotNegative,
            DEFAULT_CLEARANCE,
        );
        let mut obstacles = Vec::new();
        for (bodies, key, side) in [
            (&file.keep_out, "keep_out", Side::KeepOut),
            (&file.keep_in, "keep_in", Side::KeepIn),
        ] {
            let path = path.key(key);
            let bodies = bodies.as_deref().unwrap_or_default();
            if bodies.len() > MAX_BODIES {
                self.error(
                    &path,
                    format!("holds {} bodies", bodies.len()),
                    format!("give at most {MAX_BODIES}; join those that stand together"),
                );
                continue;
            }
            for (i, body) in bodies.iter().enumerate() {
                let obstacle = self.body(body, &path.index(i), side, clearance);
                obstacles.extend(obstacle);
            }
        }
        let scans = self.scans(file.scans.as_deref(), &path.key("scans"), clearance, ports);
        clearance.and(Some((obstacles, scans?)))
    }

    fn body(
        &mut self,
        file: &BodyFile,
        path: &Path,
        side: Side,
        clearance: Option<Length>,
    ) -> Option<Obstacle> {
        let name = self.required(&file.name, &path.key("name"), "\"battery\"");
        let name = name.and_then(|name| self.text(name, &path.key("name")));
        let clearance = match &file.clearance {
            Some(own) => self.length(own, &path.key("clearance"), Sign::NotNegative),
            None => clearance,
        };
        let given = [
            file.r#box.is_some(),
            file.plane.is_some(),
            file.cylinder.is_some(),
        ];
        if given.iter().filter(|given| **given).count() != 1 {
            return self.fail(
                path,
                "must be one body",
                "give one of \"box\", \"plane\" and \"cylinder\"",
            );
        }
        Some(Obstacle {
            body: Body::Solid(self.solid(file, path)?),
            name: name?,
            side,
            clearance: clearance?,
            reach: Length::ZERO,
        })
    }

    fn solid(&mut self, file: &BodyFile, path: &Path) -> Option<Solid> {
        if let Some(file) = &file.r#box {
            return self.block(file, &path.key("box"));
        }
        if let Some(file) = &file.plane {
            let path = path.key("plane");
            let point = self.required_point(&file.point, &path.key("point"));
            let normal = self.required(&file.normal, &path.key("normal"), "[x, y, z]");
            let normal = normal.and_then(|n| self.heading(n, &path.key("normal")));
            return Some(Solid::HalfSpace(Plane {
                point: point?,
                normal: normal?,
            }));
        }
        let file = file.cylinder.as_ref()?;
        let path = path.key("cylinder");
        let [from, to] = [(&file.from, "from"), (&file.to, "to")]
            .map(|(value, key)| self.required_point(value, &path.key(key)));
        let radius = self.required(&file.radius, &path.key("radius"), "its radius");
        let radius = radius.and_then(|r| self.length(r, &path.key("radius"), Sign::Positive));
        let (from, to) = (from?, to?);
        if from == to {
            return self.fail(&path, "has no length", "give the middles of both its ends");
        }
        Some(Solid::Cylinder {
            from,
            to,
            radius: radius?,
        })
    }

    /// A box along the axes.
    pub(super) fn block(&mut self, file: &BoxFile, path: &Path) -> Option<Solid> {
        let [min, max] = [(&file.min, "min"), (&file.max, "max")]
            .map(|(value, key)| self.required_point(value, &path.key(key)));
        let (min, max) = (min?, max?);
        if (max - min).min() <= 0.0 {
            return self.fail(
                path,
                "is not larger at 'max' than at 'min' along every axis",
                "give two corners that lie across from each other, the lesser first",
            );
        }
        Some(Solid::between(min, max))
    }

    pub(super) fn required_point(
        &mut self,
        value: &Option<Vec<Quantity>>,
        path: &Path,
    ) -> Option<crate::geometry::Point> {
        let value = self.required(value, path, "[x, y, z]")?;
        self.center(value, path)
    }

    /// Passes of a run through which its tube fits.
    pub(super) fn passes(
        &mut self,
        files: Option<&[PassFile]>,
        path: &Path,
        tube: Option<&Tube>,
    ) -> Option<Vec<Pass>> {
        let files = files.unwrap_or_default();
        if files.len() > MAX_PASSES {
            return self.fail(
                path,
                format!("holds {} places to go through", files.len()),
                format!("give at most {MAX_PASSES} a run"),
            );
        }
        self.each(files, path, |reader, file, path| {
            reader.pass(file, path, tube)
        })
    }

    fn pass(&mut self, file: &PassFile, path: &Path, tube: Option<&Tube>) -> Option<Pass> {
        let name = self.required(&file.name, &path.key("name"), "\"panel\"");
        let name = name.and_then(|name| self.text(name, &path.key("name")));
        let center = self.required_point(&file.center, &path.key("center"));
        let direction = match &file.direction {
            Some(values) => Some(self.heading(values, &path.key("direction"))?),
            None => None,
        };
        let radius = self.required(&file.radius, &path.key("radius"), "its radius");
        let radius = radius.and_then(|r| self.length(r, &path.key("radius"), Sign::Positive))?;
        if direction.is_some() && tube.is_some_and(|tube| radius <= tube.radius()) {
            return self.fail(
                &path.key("radius"),
                "is not more than the tube's: it does not go through",
                "make the hole larger, or leave out 'direction' for a bracket",
            );
        }
        Some(Pass {
            name: name?,
            center: center?,
            direction,
            radius,
        })
    }

    /// Where a port may go and lean.
    pub(super) fn freedom(
        &mut self,
        slides: Option<&[SlideFile]>,
        cone: &Option<Quantity>,
        path: &Path,
    ) -> Option<Freedom> {
        let cone_path = path.key("cone");
        let cone = self.angle_or(cone, &cone_path, Angle::ZERO)?;
        if !(cone >= Angle::ZERO && cone <= Freedom::WIDEST_CONE) {
            let help = "give the angle between the middle and the edge of the cone";
            return self.fail(&cone_path, "must be from 0° to 80°", help);
        }
        let path = path.key("slide");
        let slides = self.each(slides.unwrap_or_default(), &path, Self::slide)?;
        let freedom = Freedom { slides, cone };
        if !freedom.is_sound() {
            return self.fail(
                &path,
                "holds more than three slides, or some that point the same way",
                "give up to three that point in different directions",
            );
        }
        Some(freedom)
    }

    fn slide(&mut self, file: &SlideFile, path: &Path) -> Option<Slide> {
        let along = self.required(&file.along, &path.key("along"), "[x, y, z]");
        let along = along.and_then(|along| self.heading(along, &path.key("along")));
        let [back, ahead] = [(&file.back, "back"), (&file.ahead, "ahead")].map(|(value, key)| {
            self.length_or(value, &path.key(key), Sign::NotNegative, Length::ZERO)
        });
        let slide = Slide {
            along: along?,
            back: back?,
            ahead: ahead?,
        };
        if slide.back + slide.ahead <= Length::ZERO {
            return self.fail(path, "leads nowhere", "give 'back', 'ahead' or both");
        }
        Some(slide)
    }
}
