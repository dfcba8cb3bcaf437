//! Which cuts share one setting of the saw.

use crate::units::Angle;

/// Two saw angles closer than this share one set-up: rounding of the search. A saw's
/// scale shows far less, but a run cut at angles that only nearly agree does not close.
pub(super) const SAME_SETTING: Angle = Angle::from_degrees(1e-5);

/// The setting that each of `cuts` is made at, counted from 0 at the least angle: cuts
/// within rounding of a neighbor share one, which is how [`Cost`](super::Cost) counts
/// settings.
pub fn saw_settings(cuts: &[Angle]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..cuts.len()).collect();
    order.sort_by(|&a, &b| cuts[a].radians().total_cmp(&cuts[b].radians()));
    let mut settings = vec![0; cuts.len()];
    for pair in order.windows(2) {
        let next = usize::from(cuts[pair[1]] - cuts[pair[0]] > SAME_SETTING);
        settings[pair[1]] = settings[pair[0]] + next;
    }
    settings
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cuts_within_rounding_share_a_setting() {
        let cuts = [9.0, 7.5, 9.000_009, 9.000_018, 9.1].map(Angle::from_degrees);
        assert_eq!(saw_settings(&cuts), [1, 0, 1, 1, 2]);
        assert!(saw_settings(&[]).is_empty());
    }
}
