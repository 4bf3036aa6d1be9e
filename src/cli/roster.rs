//! `plan --roster`: many briefs in, a line of JSON for each out, in their order; goes on where an earlier run ended.

use super::files;
use super::load::{OwnData, load};
use crate::diagnostic::Diagnostic;
use crate::roster::{Answered, BadLine, Defaults, Entry, Fingerprint, Outcome, run};
use clap::Args;
use serde::Deserialize;
use std::collections::HashMap;
use std::fs::{File, OpenOptions, TryLockError};
use std::io::{self, BufRead, BufReader, Read, Seek, SeekFrom, Write};
use std::num::NonZeroUsize;
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// Longest line of an earlier output that is read, bytes: far above any plan.
const MOST_ANSWER: u64 = 64 << 20;

/// Time between two lines of progress.
const PROGRESS: Duration = Duration::from_secs(5);

/// Options of a roster.
#[derive(Debug, Args)]
pub struct RosterOptions {
    /// Plan many briefs at once: a folder of briefs (*.toml), a file of lines {"id": "...", "brief": "..."}, or `-`
    /// for such lines from standard input. A line of JSON comes out for each, in their order; with --output a run
    /// that ended early goes on where it was
    #[arg(long, value_name = "PLACE", conflicts_with_all = [
        "brief", "format", "start", "model", "prove", "units", "pantry", "leftovers",
    ])]
    pub(super) roster: Option<PathBuf>,
    /// Briefs of the roster planned at once; as many as the machine has cores without it
    #[arg(long, value_name = "NUMBER", requires = "roster")]
    pub(super) jobs: Option<NonZeroUsize>,
}

/// Something of a roster, and how far into it its end lies.
struct Thing {
    what: What,
    at: u64,
}

enum What {
    Entry(Entry),
    Bad(BadLine),
    /// Answered by an earlier run: the line as it stands.
    Known(Outcome, Vec<u8>),
    Broken(io::Error),
}

/// Where entries come from.
struct Source {
    from: From,
    defaults: Defaults,
    /// Where it ends, in the measure of [`Thing::at`]; `None` when nobody knows.
    end: Option<u64>,
    at: u64,
    lines: u64,
}

enum From {
    Lines(Box<dyn BufRead + Send>),
    Files(std::vec::IntoIter<PathBuf>),
}

impl Source {
    fn open(path: &Path, defaults: Defaults) -> io::Result<Source> {
        let say = |e: io::Error| io::Error::other(format!("{}: cannot be read: {e}", path.display()));
        let (from, end) = if path == Path::new("-") {
            (From::Lines(Box::new(BufReader::new(io::stdin()))), None)
        } else if path.is_dir() {
            let mut names = Vec::new();
            for entry in std::fs::read_dir(path).map_err(say)? {
                let name = entry.map_err(say)?.path();
                if name.extension().is_some_and(|e| e.eq_ignore_ascii_case("toml")) {
                    names.push(name);
                }
            }
            if names.is_empty() {
                return Err(io::Error::other(format!(
                    "{}: holds no brief; a brief is a file *.toml",
                    path.display()
                )));
            }
            names.sort();
            let end = names.len() as u64;
            (From::Files(names.into_iter()), Some(end))
        } else {
            let file = File::open(path).map_err(say)?;
            let end = file.metadata().ok().filter(|m| m.is_file()).map(|m| m.len());
            let mut reader = BufReader::new(file);
            // What a file is not shows in its first bytes, whatever its size.
            if end.is_some() && reader.fill_buf().map_err(say)?.contains(&0) {
                return Err(io::Error::other(format!(
                    "{}: holds binary data and is no roster; a roster is a line of JSON for each brief",
                    path.display()
                )));
            }
            (From::Lines(Box::new(reader)), end)
        };
        Ok(Source {
            from,
            defaults,
            end,
            at: 0,
            lines: 0,
        })
    }

    /// The next line that is not blank.
    fn line(&mut self) -> io::Result<Option<What>> {
        let From::Lines(reader) = &mut self.from else {
            return Ok(None);
        };
        let mut bytes = Vec::new();
        loop {
            let Some(read) = next_line(reader, files::MOST_BYTES, &mut bytes)? else {
                return Ok(None);
            };
            self.at += read;
            self.lines += 1;
            let bad = |code, what: String, help: &str| {
                Ok(Some(What::Bad(BadLine {
                    line: self.lines,
                    id: None,
                    problems: vec![Diagnostic::error(code, what).help(help)],
                })))
            };
            if read > files::MOST_BYTES {
                let what = format!(
                    "the line is longer than {} MiB; no brief is",
                    files::MOST_BYTES >> 20
                );
                return bad(
                    "roster-line-too-long",
                    what,
                    "write each brief into a line of its own",
                );
            }
            let text = match std::str::from_utf8(&bytes) {
                Ok(text) if self.lines == 1 => text.strip_prefix('\u{feff}').unwrap_or(text),
                Ok(text) => text,
                Err(e) => {
                    let what = format!("the line is not UTF-8 text (byte {})", e.valid_up_to());
                    return bad("roster-not-text", what, "save the roster as UTF-8");
                }
            };
            if !text.trim().is_empty() {
                let read = Entry::read(text, self.lines, self.defaults);
                return Ok(Some(read.map_or_else(What::Bad, What::Entry)));
            }
        }
    }
}

impl Iterator for Source {
    type Item = Thing;

    fn next(&mut self) -> Option<Thing> {
        let what = match &mut self.from {
            From::Lines(_) => self.line().unwrap_or_else(|e| Some(What::Broken(e)))?,
            From::Files(names) => {
                let path = names.next()?;
                self.at += 1;
                let id = path
                    .file_name()
                    .unwrap_or_default()
                    .to_string_lossy()
                    .into_owned();
                match files::read(&path) {
                    Ok(brief) => What::Entry(Entry {
                        id,
                        brief,
                        week: self.defaults.week,
                        seed: self.defaults.seed,
                        moves: self.defaults.moves,
                    }),
                    Err(e) => What::Bad(BadLine {
                        line: self.at,
                        id: Some(id),
                        problems: vec![
                            Diagnostic::error("roster-file", e.to_string())
                                .help("mend the file, or take it out of the folder"),
                        ],
                    }),
                }
            }
        };
        Some(Thing { what, at: self.at })
    }
}

/// Reads a line with its end into `line` and gives its length; of one longer than `most` only a beginning is kept, and
/// the rest is passed over. `None` at the end.
fn next_line(reader: &mut dyn BufRead, most: u64, line: &mut Vec<u8>) -> io::Result<Option<u64>> {
    line.clear();
    let mut read = (&mut *reader).take(most + 1).read_until(b'\n', line)? as u64;
    if read == 0 {
        return Ok(None);
    }
    while read > most && line.last() != Some(&b'\n') {
        let more = reader.fill_buf()?;
        let end = more.iter().position(|b| *b == b'\n');
        let part = end.map_or(more.len(), |e| e + 1);
        if part == 0 {
            break;
        }
        read += part as u64;
        reader.consume(part);
        if end.is_some() {
            break;
        }
    }
    Ok(Some(read))
}

/// What a line of an earlier output must say to be known again.
#[derive(Deserialize)]
struct Old {
    id: Option<String>,
    input: Option<String>,
    outcome: String,
}

impl Old {
    /// The line as an answer that stands; `None` for anything else, and for a fault, which is tried again.
    fn read(line: &[u8]) -> Option<(Old, Outcome)> {
        let old: Old = serde_json::from_slice(line.strip_suffix(b"\n")?).ok()?;
        let outcome = Outcome::of(&old.outcome).filter(|o| *o != Outcome::Failed)?;
        Some((old, outcome))
    }
}

/// The lines that earlier runs left, by the fingerprint of what they answer.
#[derive(Default)]
struct Known {
    files: Vec<File>,
    lines: HashMap<String, Span>,
}

/// A line of one of the files.
#[derive(Clone, Copy)]
struct Span {
    file: usize,
    start: u64,
    length: u64,
}

impl Known {
    fn add(&mut self, path: &Path) -> io::Result<()> {
        let file = match File::open(path) {
            Ok(file) => file,
            Err(e) if e.kind() == io::ErrorKind::NotFound => return Ok(()),
            Err(e) => return Err(e),
        };
        let (mut reader, mut line, mut start) = (BufReader::new(&file), Vec::new(), 0);
        while let Some(length) = next_line(&mut reader, MOST_ANSWER, &mut line)? {
            if let Some((
                Old {
                    input: Some(input), ..
                },
                _,
            )) = Old::read(&line)
            {
                let file = self.files.len();
                self.lines.entry(input).or_insert(Span { file, start, length });
            }
            start += length;
        }
        drop(reader);
        self.files.push(file);
        Ok(())
    }

    /// The line that answers this entry.
    fn find(&mut self, entry: &Entry, upon: Fingerprint) -> io::Result<Option<(Outcome, Vec<u8>)>> {
        let Some(span) = self.lines.get(&entry.input(upon).to_string()).copied() else {
            return Ok(None);
        };
        let Some(file) = self.files.get_mut(span.file) else {
            return Ok(None);
        };
        file.seek(SeekFrom::Start(span.start))?;
        let mut line = Vec::new();
        file.take(span.length).read_to_end(&mut line)?;
        let old = Old::read(&line).filter(|(old, _)| old.id.as_ref() == Some(&entry.id));
        Ok(old.map(|(_, outcome)| (outcome, line)))
    }
}

/// The output of a roster: lines go to `NAME.part`, which takes the name when all are there. A run that ended early
/// leaves it behind, and the next one goes on with it.
struct Growing {
    file: File,
    path: PathBuf,
}

/// `path` with more behind its name.
fn beside(path: &Path, ending: &str) -> PathBuf {
    let mut name = path.file_name().unwrap_or_default().to_os_string();
    name.push(ending);
    path.with_file_name(name)
}

/// Cuts off an unfinished last line, and gives the length.
fn cut(file: &mut File) -> io::Result<u64> {
    let mut end = file.seek(SeekFrom::End(0))?;
    let mut block = vec![0; 1 << 16];
    while end > 0 {
        let size = end.min(block.len() as u64);
        let part = &mut block[..size as usize];
        file.seek(SeekFrom::Start(end - size))?;
        file.read_exact(part)?;
        match part.iter().rposition(|b| *b == b'\n') {
            Some(n) => {
                end = end - size + n as u64 + 1;
                break;
            }
            None => end -= size,
        }
    }
    file.set_len(end)?;
    Ok(end)
}

/// Opens a file to read and go on writing; it is made when it is not there.
fn open_to_go_on(path: &Path) -> io::Result<File> {
    OpenOptions::new()
        .read(true)
        .write(true)
        .create(true)
        .truncate(false)
        .open(path)
}

impl Growing {
    fn open(path: &Path) -> io::Result<Growing> {
        let say = |what: String| io::Error::other(format!("{}: {what}", path.display()));
        if path.file_name().is_none() || files::is_folder(path) {
            return Err(say(
                "is a folder; name a file in it for the answers of the roster".into(),
            ));
        }
        let part = beside(path, ".part");
        let file = open_to_go_on(&part).map_err(|e| say(format!("cannot be written: {e}")))?;
        // A disk that knows no locks is no reason to stop.
        if let Err(TryLockError::WouldBlock) = file.try_lock() {
            return Err(say(format!(
                "another run is writing {}; wait for it or name another file",
                part.display()
            )));
        }
        Ok(Growing {
            file,
            path: path.to_path_buf(),
        })
    }

    fn part(&self) -> PathBuf {
        beside(&self.path, ".part")
    }

    fn rest(&self) -> PathBuf {
        beside(&self.path, ".part-rest")
    }

    /// Goes past all that stands in the unfinished file already. Gives the first thing that does not, if there is one,
    /// and what earlier runs left besides.
    fn resume(
        &mut self,
        source: &mut Source,
        upon: Fingerprint,
        tally: &mut Tally,
    ) -> io::Result<(Option<Thing>, Known)> {
        let length = cut(&mut self.file)?;
        let mut reader = BufReader::new(File::open(self.part())?);
        let (mut line, mut at) = (Vec::new(), 0);
        let mut first = None;
        for thing in source {
            let read = if at < length {
                next_line(&mut reader, MOST_ANSWER, &mut line)?
            } else {
                None
            };
            let stands = read.and_then(|read| match &thing.what {
                What::Entry(entry) => Old::read(&line)
                    .filter(|(old, _)| {
                        old.id.as_ref() == Some(&entry.id) && old.input == Some(entry.input(upon).to_string())
                    })
                    .map(|(_, outcome)| (read, outcome)),
                What::Bad(bad) => (Answered::from(bad.clone()).line(None).as_bytes() == line)
                    .then_some((read, Outcome::Refused)),
                What::Known(..) | What::Broken(_) => None,
            });
            let Some((read, outcome)) = stands else {
                first = Some(thing);
                break;
            };
            at += read;
            tally.stands(outcome, thing.at);
        }
        let mut known = Known::default();
        if first.is_some() {
            if at < length {
                self.set_aside(at)?;
            }
            known.add(&self.rest())?;
            known.add(&self.path)?;
        }
        self.file.set_len(at)?;
        self.file.seek(SeekFrom::Start(at))?;
        Ok((first, known))
    }

    /// Copies what stands from `at` on to a file of its own, so that no answer is lost when the run ends here.
    fn set_aside(&mut self, at: u64) -> io::Result<()> {
        let mut rest = open_to_go_on(&self.rest())?;
        let end = cut(&mut rest)?;
        rest.seek(SeekFrom::Start(end))?;
        self.file.seek(SeekFrom::Start(at))?;
        io::copy(&mut self.file, &mut rest)?;
        rest.sync_all()
    }

    /// What could not be written, and what to do then.
    fn failed(&self, e: &io::Error) -> io::Error {
        io::Error::other(format!(
            "{}: cannot be written: {e}; what is done stands in {}, and the same command goes on with it",
            self.path.display(),
            self.part().display()
        ))
    }

    /// Puts the file in place.
    fn place(self) -> io::Result<()> {
        self.file.sync_all().map_err(|e| self.failed(&e))?;
        std::fs::rename(self.part(), &self.path).map_err(|e| self.failed(&e))?;
        match std::fs::remove_file(self.rest()) {
            Err(e) if e.kind() != io::ErrorKind::NotFound => Err(io::Error::other(format!(
                "{}: cannot be removed: {e}",
                self.rest().display()
            ))),
            _ => Ok(()),
        }
    }
}

impl Drop for Growing {
    /// Nothing stays of a run that wrote nothing.
    fn drop(&mut self) {
        if self.file.metadata().is_ok_and(|m| m.len() == 0) {
            let _ = std::fs::remove_file(self.part());
        }
    }
}

/// Counts of outcomes, and how fast they come.
struct Tally {
    counts: [u64; Outcome::ALL.len()],
    kept: u64,
    end: Option<u64>,
    /// Where this run began and where it is, in the measure of [`Thing::at`].
    from: u64,
    at: u64,
    started: Instant,
    told: Instant,
}

impl Tally {
    fn new(end: Option<u64>) -> Tally {
        let now = Instant::now();
        Tally {
            counts: [0; Outcome::ALL.len()],
            kept: 0,
            end,
            from: 0,
            at: 0,
            started: now,
            told: now,
        }
    }

    fn count(&mut self, outcome: Outcome, at: u64) {
        self.counts[outcome as usize] += 1;
        self.at = at;
    }

    /// One that an earlier run answered and that stands in its place.
    fn stands(&mut self, outcome: Outcome, at: u64) {
        self.count(outcome, at);
        self.kept += 1;
        self.from = at;
    }

    fn done(&self) -> u64 {
        self.counts.iter().sum()
    }

    /// How many, how fast, and how long still.
    fn told(&self, ended: bool) -> String {
        let seconds = self.started.elapsed().as_secs_f64();
        let rate = (self.done() - self.kept) as f64 / seconds.max(1e-3);
        let counts: Vec<String> = Outcome::ALL
            .iter()
            .zip(self.counts)
            .filter(|(_, n)| *n > 0)
            .map(|(o, n)| format!("{n} {}", o.word()))
            .collect();
        let mut text = format!("{} answered", self.done());
        if !counts.is_empty() {
            text += &format!(" ({})", counts.join(", "));
        }
        if self.kept > 0 {
            text += &format!(", {} of them by an earlier run", self.kept);
        }
        text += &format!(", {rate:.2} a second");
        if ended {
            text += &format!(", {} in all", span(seconds));
        } else if let Some(end) = self.end.filter(|_| self.at > self.from) {
            let left = end.saturating_sub(self.at) as f64 / (self.at - self.from) as f64 * seconds;
            text += &format!(", about {} left", span(left));
        }
        text
    }

    fn tell(&mut self) {
        if self.told.elapsed() >= PROGRESS {
            self.told = Instant::now();
            let _ = writeln!(io::stderr().lock(), "{}", self.told(false));
        }
    }

    /// The exit code: the worst outcome speaks.
    fn code(&self) -> u8 {
        let any = |outcomes: &[Outcome]| outcomes.iter().any(|o| self.counts[*o as usize] > 0);
        if any(&[Outcome::Refused, Outcome::Failed]) {
            2
        } else {
            u8::from(any(&[Outcome::Infeasible, Outcome::Stopped]))
        }
    }
}

/// A length of time for people.
fn span(seconds: f64) -> String {
    let s = seconds.round() as u64;
    match s {
        0..60 => format!("{s} s"),
        60..3600 => format!("{} min {} s", s / 60, s % 60),
        _ => format!("{} h {} min", s / 3600, s / 60 % 60),
    }
}

/// What a roster is asked for.
pub(super) struct Asked<'a> {
    pub(super) from: &'a Path,
    pub(super) jobs: Option<NonZeroUsize>,
    pub(super) own: &'a OwnData,
    pub(super) output: Option<&'a Path>,
    pub(super) defaults: Defaults,
}

/// Plans a roster; the exit code.
///
/// # Errors
/// Files that cannot be read or written.
pub(super) fn roster(asked: &Asked, out: &mut dyn Write) -> io::Result<u8> {
    let mut source = Source::open(asked.from, asked.defaults)?;
    let output = asked.output.filter(|p| *p != Path::new("-"));
    let (device, file) = match output {
        Some(path) if files::is_device(path) => (Some(path), None),
        other => (None, other),
    };
    let mut device = device
        .map(|path| OpenOptions::new().write(true).open(path))
        .transpose()?;
    let out: &mut dyn Write = match &mut device {
        Some(device) => device,
        None => out,
    };
    let mut growing = file.map(Growing::open).transpose()?;
    let loaded = match load(asked.own)? {
        Ok(loaded) => loaded,
        Err(code) => return Ok(code),
    };
    let mut upon = Fingerprint::of_program();
    asked.own.add_to(&mut upon)?;
    let mut tally = Tally::new(source.end);
    let (first, mut known) = match &mut growing {
        Some(growing) => {
            let (path, part) = (growing.path.clone(), growing.part());
            growing.resume(&mut source, upon, &mut tally).map_err(|e| {
                io::Error::other(format!(
                    "{}: cannot go on with {}: {e}",
                    path.display(),
                    part.display()
                ))
            })?
        }
        None => (None, Known::default()),
    };
    let things = first.into_iter().chain(source).map(|thing| {
        let what = match thing.what {
            What::Entry(entry) => match known.find(&entry, upon) {
                Ok(Some((outcome, line))) => What::Known(outcome, line),
                Ok(None) => What::Entry(entry),
                Err(e) => What::Broken(e),
            },
            other => other,
        };
        Thing { what, ..thing }
    });
    let work = |thing: Thing| {
        let earlier = matches!(thing.what, What::Known(..));
        let (outcome, line) = match thing.what {
            What::Entry(entry) => {
                let answered = Answered::to(loaded.larder(), &entry);
                let line = answered.line(Some(entry.input(upon)));
                (answered.outcome, line.into_bytes())
            }
            What::Bad(bad) => (Outcome::Refused, Answered::from(bad).line(None).into_bytes()),
            What::Known(outcome, line) => (outcome, line),
            What::Broken(e) => return Err(e),
        };
        Ok((outcome, line, thing.at, earlier))
    };
    let jobs = asked
        .jobs
        .or_else(|| std::thread::available_parallelism().ok())
        .unwrap_or(NonZeroUsize::MIN);
    let mut fault = None;
    let _ = run(things, jobs, work, |result| {
        let written = result.and_then(|(outcome, line, at, earlier)| {
            match &mut growing {
                Some(growing) => growing.file.write_all(&line).map_err(|e| growing.failed(&e))?,
                // Each line at once, for whoever waits at the other end.
                None => out.write_all(&line).and_then(|()| out.flush())?,
            }
            tally.count(outcome, at);
            tally.kept += u64::from(earlier);
            tally.tell();
            Ok(())
        });
        match written {
            Ok(()) => ControlFlow::Continue(()),
            Err(e) => {
                fault = Some(e);
                ControlFlow::Break(())
            }
        }
    });
    if let Some(fault) = fault {
        return Err(fault);
    }
    growing.map(Growing::place).transpose()?;
    let _ = writeln!(io::stderr().lock(), "{}", tally.told(true));
    Ok(tally.code())
}
