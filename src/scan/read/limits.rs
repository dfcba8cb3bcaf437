//! [`Limits`]: how much is read before a file counts as a mistake or an attack.

/// The most that is taken of a file, so that no file fills the memory: what a header
/// claims is never believed, and what really arrives is counted.
#[derive(Clone, Copy, Debug)]
pub(super) struct Limits {
    /// Bytes, unpacked.
    pub bytes: u64,
    /// Bytes to a line, its continuations included.
    pub line: usize,
    /// Triangles.
    pub triangles: usize,
    /// Points, as the file lists them.
    pub points: usize,
    /// Groups.
    pub groups: usize,
    /// Bytes to a group's name.
    pub name: usize,
    /// Lines to a header.
    pub header: usize,
}

/// Most triangles that are read: twenty times a dense scan of a bay. With as many
/// points they take about 3 GB while they are read.
pub const MAX_TRIANGLES: usize = 20_000_000;

/// Most bytes that are read, counted once unpacked: those triangles in any format but
/// the wordiest.
pub const MAX_MESH_BYTES: u64 = 4 * 1024 * 1024 * 1024;

impl Limits {
    /// Those of every file; tests take smaller ones.
    pub const ALL: Self = Self {
        bytes: MAX_MESH_BYTES,
        // A strip of several million triangles stands on one line.
        line: 64 * 1024 * 1024,
        triangles: MAX_TRIANGLES,
        points: MAX_TRIANGLES,
        groups: 100_000,
        name: 4096,
        header: 10_000,
    };
}
