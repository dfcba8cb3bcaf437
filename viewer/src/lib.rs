//! The bench: see a planned run, turn it, change it, and build it piece by piece.
//!
//! State stands apart from drawing, and geometry comes from the library:
//!
//! ```text
//! palette, eye → state → scene → panel → window, snapshot
//! ```

pub mod eye;
pub mod palette;
pub mod scene;
pub mod state;
