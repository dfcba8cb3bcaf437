//! [`Kind`]: pieces that are alike and share one pattern.

use crate::run::Run;
use crate::tube::Piece;

/// Differences below this, mm on the outside of the tube, are one kind: a tenth of
/// what a pencil line covers.
const ALIKE: f64 = 0.01;

/// One pattern and the straight pieces that it fits.
#[derive(Clone, Debug, PartialEq)]
pub struct Kind<'a> {
    /// The first of them.
    pub piece: &'a Piece,
    /// Numbers of all of them, from 1 in order of flow.
    pub numbers: Vec<usize>,
}

/// The kinds of straight piece in `run`, in order of first use.
pub fn kinds(run: &Run) -> Vec<Kind<'_>> {
    let mut kinds: Vec<Kind<'_>> = Vec::new();
    for (i, placed) in run.pieces().iter().enumerate() {
        let Some(piece) = placed.piece.straight() else {
            continue;
        };
        match kinds.iter_mut().find(|kind| alike(kind.piece, piece)) {
            Some(kind) => kind.numbers.push(i + 1),
            None => kinds.push(Kind {
                piece,
                numbers: vec![i + 1],
            }),
        }
    }
    kinds
}

/// Whether the two outsides are the same to within [`ALIKE`].
fn alike(a: &Piece, b: &Piece) -> bool {
    let radius = a.tube().radius();
    let near = |x: f64, y: f64| (x - y).abs() <= ALIKE;
    let reach = |cut: crate::tube::Cut| cut.reach(radius).mm();
    let turned = (a.clock() - b.clock()).wrapped();
    let turned = turned.min(crate::units::Angle::FULL - turned);
    a.tube() == b.tube()
        && near(a.length().mm(), b.length().mm())
        && near(reach(a.start()), reach(b.start()))
        && near(reach(a.end()), reach(b.end()))
        && near(turned.radians() * reach(a.end()), 0.0)
}
