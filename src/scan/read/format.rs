//! [`Format`]: how a file is written, by its start or else by its name.

use super::error::ReadError;

/// Bytes before the count of triangles in a binary STL.
const STL_HEADER: usize = 80;

/// How a file is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Format {
    /// STL as text.
    StlText,
    /// STL as numbers of fixed size.
    StlBinary,
    /// PLY, whose header says more.
    Ply,
    /// OBJ.
    Obj,
}

impl Format {
    /// The format of an unpacked file that begins with `head`.
    pub fn of(head: &[u8], name: &str) -> Result<Self, ReadError> {
        if head.is_empty() {
            return Err(ReadError::Empty);
        }
        if head.starts_with(b"ply\n") || head.starts_with(b"ply\r") {
            return Ok(Self::Ply);
        }
        let name = name.to_ascii_lowercase();
        let ending = name.strip_suffix(".gz").unwrap_or(&name).rsplit_once('.');
        let stl_text = is_stl_text(head);
        match ending.map(|(_, ending)| ending) {
            Some("ply") => Ok(Self::Ply),
            Some("obj") if !stl_text => Ok(Self::Obj),
            Some("stl") if !stl_text => Ok(Self::StlBinary),
            _ if stl_text => Ok(Self::StlText),
            _ => Err(ReadError::UnknownFormat),
        }
    }
}

/// Whether a file is an STL in text. Binary ones may begin with `solid` too. Their bytes
/// 80 to 84 are a count of triangles, which in text would be 151 million or more, because
/// no character of text is below 9: so it is the length that decides, without knowing it.
/// Where the count lies, zeros tell.
fn is_stl_text(head: &[u8]) -> bool {
    let Some((start, _)) = head.trim_ascii_start().split_at_checked(b"solid".len()) else {
        return false;
    };
    let mut count = head.iter().skip(STL_HEADER).take(size_of::<u32>());
    start.eq_ignore_ascii_case(b"solid") && count.all(|&byte| is_text(byte)) && !head.contains(&0)
}

/// Whether text has such a byte, in ASCII or beyond.
const fn is_text(byte: u8) -> bool {
    byte >= b' ' || byte.is_ascii_whitespace()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn format(head: &[u8], name: &str) -> Option<Format> {
        Format::of(head, name).ok()
    }

    #[test]
    fn content_tells_before_the_name_does() {
        assert_eq!(format(b"ply\nformat", "a.obj"), Some(Format::Ply));
        assert_eq!(format(b"ply\r\nformat", "bay"), Some(Format::Ply));
        assert_eq!(format(b"solid a\nfacet", "bay"), Some(Format::StlText));
        assert_eq!(format(b"SOLID a\nfacet", "b.Stl"), Some(Format::StlText));
    }

    #[test]
    fn names_tell_where_content_does_not() {
        assert_eq!(format(b"v 1 2 3", "b.OBJ"), Some(Format::Obj));
        assert_eq!(format(b"v 1 2 3", "b.x.obj.gz"), Some(Format::Obj));
        assert_eq!(format(&[0; 84], "b.stl.GZ"), Some(Format::StlBinary));
        assert_eq!(format(b"v 1 2 3", "b.gz"), None);
        assert_eq!(format(b"v 1 2 3", "obj"), None);
        assert!(matches!(Format::of(b"", "b.obj"), Err(ReadError::Empty)));
    }

    #[test]
    fn binary_stl_may_begin_with_solid() {
        let mut head = vec![b' '; STL_HEADER];
        head[..5].copy_from_slice(b"solid");
        head.extend(12_u32.to_le_bytes());
        assert_eq!(format(&head, "b.stl"), Some(Format::StlBinary));
        head.truncate(STL_HEADER);
        head.extend(b"\n fa");
        assert_eq!(format(&head, "b.stl"), Some(Format::StlText));
    }
}
