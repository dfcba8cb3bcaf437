//! Which choices arcs call for, and which are one step away from one that works.

use super::choice::{Choice, CutRule, Making};
use super::field::Field;
use super::layout::Guess;
use super::limits::MAX_TURN;
use super::solver::Solver;
use super::waiting::Waiting;
use crate::units::Angle;
use std::collections::BTreeSet;

/// Numbers of joints at the bend that turns most, above the fewest, from which shared cut
/// angles are tried.
const SHARED_STEPS: u32 = 2;
/// Listed cuts looked at for each bend.
const LISTED_TRIED: usize = 3;
/// Choices of listed cuts that a family begins with.
const LISTED_CHOICES: usize = 30;
/// Turn by which a bend may differ from that of a whole stock bend that is tried for it.
const WHOLE_REACH: Angle = Angle::from_degrees(40.0);

impl Solver<'_> {
    /// The choices that arcs of these turns call for.
    pub(super) fn first_choices(
        &self,
        arcs: &Choice,
        turns: &[Angle],
        guess: &Guess,
    ) -> Vec<Choice> {
        let Some(&Making::Arc { radius }) = arcs.bends.first() else {
            // Only arcs are not made; stock bends and no bend at all are.
            return vec![arcs.clone()];
        };
        let task = self.field.task;
        if !task.pies {
            return Vec::new();
        }
        let mut choices = Vec::new();
        if task.saw_angles.is_empty() {
            let joints: Vec<u32> = turns
                .iter()
                .enumerate()
                .map(|(i, turn)| self.joints_for(*turn, guess.radii.get(i).copied()))
                .collect();
            let is_one = turns.len() <= 1;
            if is_one || !task.one_setting {
                choices.push(arcs.with_pies(&joints, radius, CutRule::Free));
            }
            if !is_one && (task.one_setting || self.shares_settings()) {
                choices.extend(
                    shared_joints(self.field, turns)
                        .into_iter()
                        .map(|joints| arcs.with_pies(&joints, radius, CutRule::Shared)),
                );
            }
        } else {
            choices.extend(self.listed_choices(arcs, turns, radius));
        }
        choices
    }

    /// Whether one setting for all miters is worth looking for by itself.
    fn shares_settings(&self) -> bool {
        self.field.task.rates.setup_minutes > 0.0 && !self.first_only
    }

    /// Joints for a turn: by the limits at the CLR there or at the greatest, or else as
    /// many as the usual cut takes.
    fn joints_for(&self, turn: Angle, radius: Option<f64>) -> u32 {
        let limits = &self.field.limits;
        let tube = self.field.task.tube.radius();
        if limits.least_pie_cut(limits.clr_max, tube) > limits.max_cut {
            // No pie keeps its short side: only single joints are left.
            return 1;
        }
        let turn = turn.min(MAX_TURN);
        let usual = (turn / (limits.usual_cut * 2.0)).ceil().max(1.0) as u32;
        let at = |clr| limits.joints_for(turn, clr, tube);
        let here = radius.and_then(|radius| at(self.field.length(radius)));
        here.or_else(|| at(limits.clr_max)).unwrap_or(usual)
    }

    /// Choices of listed cuts nearest to the turns, nearest first.
    fn listed_choices(&self, arcs: &Choice, turns: &[Angle], radius: usize) -> Vec<Choice> {
        let task = self.field.task;
        let options = |turn: &Angle| -> Vec<(f64, usize, u32)> {
            let mut options: Vec<(f64, usize, u32)> = task
                .saw_angles
                .iter()
                .enumerate()
                .flat_map(|(listed, cut)| {
                    let joints = *turn / (*cut * 2.0);
                    [joints.floor(), joints.ceil()].map(|joints| {
                        let joints = joints.max(1.0);
                        (
                            (*turn - *cut * (2.0 * joints)).abs().radians(),
                            listed,
                            joints as u32,
                        )
                    })
                })
                .collect();
            options.sort_by(|a, b| a.0.total_cmp(&b.0));
            options.dedup_by(|a, b| (a.1, a.2) == (b.1, b.2));
            options
        };
        let each: Vec<_> = turns.iter().map(options).collect();
        let mut choices: Vec<(f64, Vec<(usize, u32)>)> = vec![(0.0, Vec::new())];
        for options in &each {
            choices = choices
                .iter()
                .flat_map(|(off, made)| {
                    let same_saw = |listed: usize| {
                        !task.one_setting || made.first().is_none_or(|first| first.0 == listed)
                    };
                    options
                        .iter()
                        .filter(move |option| same_saw(option.1))
                        .take(LISTED_TRIED)
                        .map(move |option| {
                            (
                                off + option.0,
                                [made.as_slice(), &[(option.1, option.2)]].concat(),
                            )
                        })
                        .collect::<Vec<_>>()
                })
                .collect();
        }
        choices.sort_by(|a, b| a.0.total_cmp(&b.0));
        choices.truncate(LISTED_CHOICES);
        let bends = |made: Vec<(usize, u32)>| {
            let pies = made.into_iter().map(|(listed, joints)| Making::Pies {
                radius,
                joints,
                cut: CutRule::Listed(listed),
            });
            arcs.with_bends(pies.collect())
        };
        choices.into_iter().map(|(_, made)| bends(made)).collect()
    }

    /// Choices one step away from one that works.
    pub(super) fn neighbors(&self, choice: &Choice, turns: &[Angle]) -> Vec<Choice> {
        let task = self.field.task;
        let mut neighbors = choice.nearby();
        let all_free = choice
            .bends
            .iter()
            .all(|making| !matches!(making, Making::Pies { cut, .. } if *cut != CutRule::Free));
        if all_free && choice.pie_bends() > 1 && self.shares_settings() {
            neighbors.push(choice.shared());
        }
        for (i, turn) in turns.iter().enumerate() {
            neighbors.extend(self.other_stock(choice, i, *turn));
            if let Making::Pies {
                radius,
                joints,
                cut,
            } = choice.bends[i]
            {
                let others = (0..task.clrs.len()).filter(|&other| other != radius);
                neighbors.extend(others.map(|radius| {
                    choice.with_bend(
                        i,
                        Making::Pies {
                            radius,
                            joints,
                            cut,
                        },
                    )
                }));
            } else if task.pies && task.saw_angles.is_empty() && !task.one_setting {
                let making = Making::Pies {
                    radius: 0,
                    joints: self.joints_for(*turn, None),
                    cut: CutRule::Free,
                };
                neighbors.push(choice.with_bend(i, making));
            }
        }
        neighbors
    }

    /// The choice with another stock bend at bend `i`, whole or cut down.
    fn other_stock(&self, choice: &Choice, i: usize, turn: Angle) -> Vec<Choice> {
        let stock = self.field.task.stock.iter().enumerate();
        let fits = stock.flat_map(|(item, stock)| {
            let cut_down = (turn <= stock.turn).then_some(Making::Stock { item, whole: false });
            let is_near = (turn - stock.turn).abs() <= WHOLE_REACH && choice.bends.len() > 1;
            let whole = is_near.then_some(Making::Stock { item, whole: true });
            [cut_down, whole].into_iter().flatten()
        });
        fits.filter(|making| *making != choice.bends[i])
            .map(|making| choice.with_bend(i, making))
            .collect()
    }

    /// The best route so far with one of its bends made as two, if that gives the right
    /// number of bends: room to save a joint by twisting the bend.
    pub(super) fn split_bends(&self, arcs: &Choice) -> Vec<Waiting> {
        let (Some(&Making::Arc { radius }), true) = (arcs.bends.first(), arcs.pass_legs.is_empty())
        else {
            return Vec::new();
        };
        let best = self
            .candidates
            .iter()
            .map(|kept| &kept.candidate)
            .min_by(|a, b| a.cost.rank.total_cmp(&b.cost.rank));
        let Some(best) = best else {
            return Vec::new();
        };
        let bends = &best.route.bends;
        let is_pies = bends.iter().all(|bend| bend.stock().is_none());
        if bends.len() + 1 != arcs.bends.len()
            || !is_pies
            || !self.field.task.saw_angles.is_empty()
            || self.field.task.one_setting
        {
            return Vec::new();
        }
        let split = |at: usize| {
            let corners = bends.iter().enumerate().flat_map(|(i, bend)| {
                if i == at {
                    bend.half_corners().to_vec()
                } else {
                    vec![bend.corner]
                }
            });
            let corners: Vec<_> = corners.map(|corner| self.field.in_frame(&corner)).collect();
            let joints = bends.iter().enumerate().flat_map(|(i, bend)| {
                let joints = bend.joints();
                if i == at {
                    vec![joints.div_ceil(2), (joints / 2).max(1)]
                } else {
                    vec![joints]
                }
            });
            let turns = bends.iter().enumerate().flat_map(|(i, bend)| {
                if i == at {
                    vec![bend.turn / 2.0; 2]
                } else {
                    vec![bend.turn]
                }
            });
            let ends = &self.field.ends;
            let reaches = [
                (corners[0] - ends[0].center).norm(),
                (corners[corners.len() - 1] - ends[1].center).norm(),
            ];
            let between = corners[1..corners.len() - 1].to_vec();
            let guess = Guess::at(self.field, reaches, between);
            Waiting {
                choice: arcs.with_pies(&joints.collect::<Vec<_>>(), radius, CutRule::Free),
                guess,
                turns: turns.collect(),
            }
        };
        (0..bends.len())
            .filter(|&i| bends[i].joints() > 1)
            .map(split)
            .collect()
    }
}

/// Joints in the proportion of the turns, for cuts shared by all bends: from the fewest
/// at the bend that turns most, some more each time.
fn shared_joints(field: &Field<'_>, turns: &[Angle]) -> BTreeSet<Vec<u32>> {
    let most = turns.iter().copied().fold(Angle::ZERO, Angle::max);
    let (limits, radius) = (&field.limits, field.task.tube.radius());
    let usual = (most / (limits.usual_cut * 2.0) - 1e-6).ceil().max(1.0) as u32;
    let fewest = limits
        .joints_for(most, limits.clr_max, radius)
        .map_or(usual, |joints| joints.min(usual));
    (fewest..=fewest + SHARED_STEPS)
        .map(|joints| {
            let each = most / f64::from(joints);
            turns
                .iter()
                .map(|turn| (*turn / each).round().max(1.0) as u32)
                .collect()
        })
        .collect()
}
