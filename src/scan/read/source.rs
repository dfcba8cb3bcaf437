//! [`Source`]: a file's bytes, unpacked and counted, by the line or by the number.

use super::error::{Place, ReadError};
use super::limits::Limits;
use flate2::read::MultiGzDecoder;
use std::io::{self, BufRead, BufReader, Cursor, ErrorKind, Read};

/// How files that gzip made begin.
const GZIP_START: [u8; 2] = [0x1f, 0x8b];
/// Bytes from the start that are looked at to tell the format.
const HEAD: u64 = 1024;
/// What some programs put in front of text in UTF-8.
const BYTE_ORDER_MARK: &[u8] = b"\xef\xbb\xbf";
/// Bytes that are fetched at a time.
const BUFFER: usize = 128 * 1024;

/// What is left to read of a file.
pub(super) struct Source<'a> {
    bytes: BufReader<Box<dyn Read + 'a>>,
    limits: Limits,
    head: Vec<u8>,
    packed: bool,
    line: Vec<u8>,
    /// Where in the line the next word is looked for.
    cursor: usize,
    lines: u64,
    taken: u64,
}

/// Unpacked bytes, where damage can be told from a failing disk.
struct Unpacked<R>(MultiGzDecoder<R>);

/// What unpacking found wrong.
#[derive(Debug, thiserror::Error)]
#[error("{0}")]
struct Damage(String);

impl<R: Read> Read for Unpacked<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        self.0.read(buffer).map_err(|error| match error.kind() {
            ErrorKind::InvalidInput | ErrorKind::InvalidData | ErrorKind::UnexpectedEof => {
                io::Error::other(Damage(error.to_string()))
            }
            _ => error,
        })
    }
}

impl<'a> Source<'a> {
    /// Unpacks if need be and looks at the start.
    pub fn open(raw: impl Read + 'a, limits: Limits) -> Result<Self, ReadError> {
        let failed = |error| read_error(error, 0);
        let (start, raw) = peek(raw, GZIP_START.len() as u64).map_err(failed)?;
        let packed = start == GZIP_START;
        let bytes: Box<dyn Read + 'a> = if packed {
            Box::new(Unpacked(MultiGzDecoder::new(raw)))
        } else {
            Box::new(raw)
        };
        let (mut head, bytes) = peek(bytes, HEAD).map_err(failed)?;
        let marked = head.starts_with(BYTE_ORDER_MARK);
        let mut source = Self {
            bytes: BufReader::with_capacity(BUFFER, Box::new(bytes)),
            limits,
            head: Vec::new(),
            packed,
            line: Vec::new(),
            cursor: 0,
            lines: 0,
            taken: 0,
        };
        if marked {
            source.skip(BYTE_ORDER_MARK.len() as u64)?;
            head.drain(..BYTE_ORDER_MARK.len());
        }
        source.head = head;
        Ok(source)
    }

    /// The first bytes of the file, whatever was read since.
    pub fn head(&self) -> &[u8] {
        &self.head
    }

    /// What may be read at most.
    pub const fn limits(&self) -> &Limits {
        &self.limits
    }

    /// The line that was read last.
    pub const fn line_place(&self) -> Place {
        Place::Line(self.lines)
    }

    /// What comes next.
    pub const fn byte_place(&self) -> Place {
        Place::Byte(self.taken)
    }

    /// Reads a line, without its end; false where there are no more.
    pub fn next_line(&mut self) -> Result<bool, ReadError> {
        self.line.clear();
        self.cursor = 0;
        self.append_line()
    }

    /// Reads a line that goes on in the next one where it ends in a backslash. Comments
    /// do not: they may end in the name of a folder.
    pub fn next_joined_line(&mut self) -> Result<bool, ReadError> {
        let mut found = self.next_line()?;
        while found && self.line.last() == Some(&b'\\') && self.line.first() != Some(&b'#') {
            self.line.pop();
            self.line.push(b' ');
            found = self.append_line()?;
        }
        Ok(found || !self.line.is_empty())
    }

    fn append_line(&mut self) -> Result<bool, ReadError> {
        let limit = self.limits.line;
        // One byte more than a line may have tells that it has too many.
        let room = limit + 1 - self.line.len();
        let read = (&mut self.bytes)
            .take(room as u64)
            .read_until(b'\n', &mut self.line)
            .map_err(|error| read_error(error, self.taken))?;
        if read == 0 {
            return Ok(false);
        }
        self.lines += 1;
        self.count(read as u64)?;
        let place = self.line_place();
        if self.line.len() > limit {
            return Err(ReadError::LineTooLong { place, limit });
        }
        if self.line.contains(&0) {
            return Err(ReadError::NotText { place });
        }
        for end in [b'\n', b'\r'] {
            self.line.pop_if(|last| *last == end);
        }
        Ok(true)
    }

    /// The next word of the line.
    pub fn word(&mut self) -> Option<&[u8]> {
        let rest = &self.line[self.cursor..];
        let from = rest.iter().position(|byte| !byte.is_ascii_whitespace())?;
        let word = &rest[from..];
        let length = word.iter().position(u8::is_ascii_whitespace);
        let word = &word[..length.unwrap_or(word.len())];
        self.cursor += from + word.len();
        Some(word)
    }

    /// What follows the last word, without the blanks around it.
    pub fn rest(&self) -> &[u8] {
        self.line[self.cursor..].trim_ascii()
    }

    /// Fills `buffer`; the number of bytes that were there to fill it with.
    pub fn fill(&mut self, buffer: &mut [u8]) -> Result<usize, ReadError> {
        let mut filled = 0;
        while filled < buffer.len() {
            match self.bytes.read(&mut buffer[filled..]) {
                Ok(0) => break,
                Ok(read) => filled += read,
                Err(error) if error.kind() == ErrorKind::Interrupted => {}
                Err(error) => return Err(read_error(error, self.taken)),
            }
        }
        self.count(filled as u64)?;
        Ok(filled)
    }

    /// Passes over `length` bytes; how many there were.
    pub fn skip(&mut self, length: u64) -> Result<u64, ReadError> {
        // One more than may be taken is enough to find out that it is too much.
        let left = self.limits.bytes.saturating_sub(self.taken);
        let within = length.min(left + 1);
        let skipped = io::copy(&mut (&mut self.bytes).take(within), &mut io::sink())
            .map_err(|error| read_error(error, self.taken))?;
        self.count(skipped)?;
        Ok(skipped)
    }

    /// Unpacks what is left, because the sum that tells damage comes last.
    pub fn finish(&mut self) -> Result<(), ReadError> {
        if self.packed {
            self.skip(u64::MAX)?;
        }
        Ok(())
    }

    fn count(&mut self, bytes: u64) -> Result<(), ReadError> {
        self.taken += bytes;
        let limit = self.limits.bytes;
        if self.taken > limit {
            return Err(ReadError::TooLong { limit });
        }
        Ok(())
    }
}

/// The first bytes, up to `length`, and everything from the start.
fn peek<R: Read>(mut source: R, length: u64) -> io::Result<(Vec<u8>, impl Read)> {
    let mut head = Vec::new();
    source.by_ref().take(length).read_to_end(&mut head)?;
    Ok((head.clone(), Cursor::new(head).chain(source)))
}

fn read_error(error: io::Error, unpacked: u64) -> ReadError {
    let damage = error.get_ref().and_then(|inner| inner.downcast_ref());
    match damage {
        Some(Damage(reason)) => ReadError::Damaged {
            unpacked,
            reason: reason.clone(),
        },
        None => ReadError::Io(error),
    }
}
