//! The bench: see a planned run, turn it, change it, and build it piece by piece.
//!
//! State stands apart from drawing, and geometry comes from the library:
//!
//! ```text
//! palette, eye → state → scene → panel → bench → window, snapshot
//! ```

pub mod arguments;
pub mod bench;
pub mod eye;
pub mod palette;
pub mod panel;
pub mod scene;
pub mod snapshot;
pub mod state;
pub mod window;
