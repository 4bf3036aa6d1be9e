//! What all readers of foods share: bounded reading, old encodings and a bounded list of problems.

use std::io::{self, BufRead, BufReader, Read};

use crate::diagnostic::{Diagnostic, Severity};

/// Most problems that one reading reports one by one.
pub(super) const MOST_PROBLEMS: usize = 100;

/// Longest line a table file may have [bytes]; the longest of the USDA files has under 1,000.
pub(super) const LONGEST_LINE: usize = 1 << 20;

/// Problems found so far: the first [`MOST_PROBLEMS`] and how many came after them.
///
/// Errors are never lost behind warnings: a dropped error keeps the closing line an error.
#[derive(Default)]
pub(super) struct Problems {
    kept: Vec<Diagnostic>,
    dropped: usize,
    worst_dropped: Option<Severity>,
}

impl Problems {
    pub(super) fn push(&mut self, problem: Diagnostic) {
        if self.kept.len() < MOST_PROBLEMS {
            self.kept.push(problem);
        } else {
            self.dropped += 1;
            self.worst_dropped = self.worst_dropped.max(Some(problem.severity));
        }
    }

    pub(super) fn finish(mut self) -> Vec<Diagnostic> {
        if let Some(severity) = self.worst_dropped {
            let message = format!("{} more problems like these are not listed", self.dropped);
            let mut more = Diagnostic::note("foods-more-problems", message)
                .help("mend the ones above first, then check again");
            more.severity = severity;
            self.kept.push(more);
        }
        self.kept
    }
}

/// Text of bytes that are UTF-8 or, failing that, Windows-1252 (a superset of printable Latin-1,
/// in which the older USDA files are written).
pub(super) fn decode(bytes: &[u8]) -> String {
    match std::str::from_utf8(bytes) {
        Ok(text) => text.to_owned(),
        Err(_) => bytes.iter().map(|&b| windows_1252(b)).collect(),
    }
}

fn windows_1252(byte: u8) -> char {
    // Code points of 0x80 to 0x9F; the five unassigned bytes become U+FFFD.
    // Source: Unicode Consortium, mapping table CP1252, version 2.01.
    const HIGH: [char; 32] = [
        '€', '\u{FFFD}', '‚', 'ƒ', '„', '…', '†', '‡', 'ˆ', '‰', 'Š', '‹', 'Œ', '\u{FFFD}', 'Ž', '\u{FFFD}',
        '\u{FFFD}', '‘', '’', '“', '”', '•', '–', '—', '˜', '™', 'š', '›', 'œ', '\u{FFFD}', 'ž', 'Ÿ',
    ];
    match byte {
        0x80..=0x9F => HIGH[usize::from(byte - 0x80)],
        other => char::from(other),
    }
}

/// Lines of a file with their number, none longer than [`LONGEST_LINE`].
pub(super) struct Lines<R> {
    reader: BufReader<R>,
    line: usize,
    buffer: Vec<u8>,
}

impl<R: Read> Lines<R> {
    pub(super) fn new(reader: R) -> Self {
        Lines {
            reader: BufReader::with_capacity(1 << 16, reader),
            line: 0,
            buffer: Vec::new(),
        }
    }

    /// The next line without its end, and its number; `None` at the end of the file.
    pub(super) fn next(&mut self) -> io::Result<Option<(usize, &[u8])>> {
        self.buffer.clear();
        let most = LONGEST_LINE as u64 + 1;
        let read = (&mut self.reader)
            .take(most)
            .read_until(b'\n', &mut self.buffer)?;
        if read == 0 {
            return Ok(None);
        }
        self.line += 1;
        if self.buffer.len() > LONGEST_LINE {
            let message = format!(
                "line {} is longer than {LONGEST_LINE} bytes; is this a text file?",
                self.line
            );
            return Err(io::Error::new(io::ErrorKind::InvalidData, message));
        }
        while matches!(self.buffer.last(), Some(b'\n' | b'\r')) {
            self.buffer.pop();
        }
        Ok(Some((self.line, &self.buffer)))
    }
}
