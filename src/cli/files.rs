//! Files for the command line: read with a limit, written whole or not at all.

use std::fs::{File, OpenOptions};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

/// Largest brief or price list that is read, bytes: far above any real one.
pub const MOST_BYTES: u64 = 4 << 20;

/// The text of a file, or of standard input for `-`.
///
/// # Errors
/// A missing file, one that is too large, or one that is not UTF-8, each named.
pub fn read(path: &Path) -> io::Result<String> {
    let say = |what: String| io::Error::other(format!("{}: {what}", path.display()));
    let mut bytes = Vec::new();
    let mut take = |source: &mut dyn Read| source.take(MOST_BYTES + 1).read_to_end(&mut bytes);
    if path == Path::new("-") {
        take(&mut io::stdin().lock())?;
    } else {
        let mut file = File::open(path).map_err(|e| say(format!("cannot be opened: {e}")))?;
        if file.metadata().is_ok_and(|m| m.is_dir()) {
            return Err(say("is a folder; name the file in it".into()));
        }
        take(&mut file).map_err(|e| say(format!("cannot be read: {e}")))?;
    }
    if bytes.len() as u64 > MOST_BYTES {
        return Err(say(format!(
            "is larger than {} MiB; no brief or price list is",
            MOST_BYTES >> 20
        )));
    }
    let text = String::from_utf8(bytes).map_err(|e| {
        say(format!(
            "is not UTF-8 text (byte {})",
            e.utf8_error().valid_up_to()
        ))
    })?;
    Ok(text
        .strip_prefix('\u{feff}')
        .map_or_else(|| text.clone(), str::to_string))
}

/// The file that `--output` names, opened; `None` without it and for `-`, which are standard output.
///
/// # Errors
/// As [`Whole::create`].
pub fn output(path: Option<&Path>) -> io::Result<Option<Whole>> {
    path.filter(|p| *p != Path::new("-"))
        .map(Whole::create)
        .transpose()
}

/// Whether a path names a folder: there is one, or the name ends like one.
pub fn is_folder(path: &Path) -> bool {
    path.is_dir() || path.to_string_lossy().ends_with(std::path::is_separator)
}

/// Files of one folder that appear together: all of them are opened before the work and put in place after it.
#[derive(Debug)]
pub struct Set {
    // Dropped in this order: the unfinished files, then the folder if it was made for them.
    files: Vec<(String, Whole)>,
    _made: Option<Made>,
}

/// A folder that goes again unless something stands in it.
#[derive(Debug)]
struct Made(PathBuf);

impl Drop for Made {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir(&self.0);
    }
}

impl Set {
    /// Opens files of these names in a folder, which is made when it is not there.
    ///
    /// # Errors
    /// When the folder cannot be made or written; nothing is left behind then.
    pub fn create(folder: &Path, names: &[&str]) -> io::Result<Set> {
        let made = if folder.is_dir() {
            None
        } else {
            std::fs::create_dir(folder)
                .map_err(|e| io::Error::other(format!("{}: cannot be made: {e}", folder.display())))?;
            Some(Made(folder.to_path_buf()))
        };
        let mut set = Set {
            files: Vec::new(),
            _made: made,
        };
        for name in names {
            set.files
                .push((name.to_string(), Whole::create(&folder.join(name))?));
        }
        Ok(set)
    }

    /// The names that were opened.
    pub fn names(&self) -> impl Iterator<Item = &str> {
        self.files.iter().map(|(name, _)| name.as_str())
    }

    /// Writes the given files in full, then puts all of them in place; the others are left as they were.
    ///
    /// # Errors
    /// When the disk is full or a file cannot be put in place.
    pub fn write(mut self, contents: &[(String, Vec<u8>)]) -> io::Result<()> {
        let mut full = Vec::new();
        for (name, bytes) in contents {
            if let Some(at) = self.files.iter().position(|(n, _)| n == name) {
                let (_, mut file) = self.files.swap_remove(at);
                file.fill(bytes)?;
                full.push(file);
            }
        }
        full.into_iter().try_for_each(Whole::place)
    }
}

/// Whether a path is there and is neither file nor folder: a device or a pipe, to be written and never replaced.
pub fn is_device(path: &Path) -> bool {
    std::fs::metadata(path).is_ok_and(|m| !m.is_file() && !m.is_dir())
}

/// A file that appears whole under its name, or not at all. Opened before the work, so that a bad
/// path fails early.
#[derive(Debug)]
pub struct Whole {
    file: File,
    /// The unfinished file; `None` for a device, which is written itself.
    part: Option<PathBuf>,
    path: PathBuf,
}

impl Whole {
    /// Opens the unfinished file beside its final place.
    ///
    /// # Errors
    /// When the folder cannot be written.
    pub fn create(path: &Path) -> io::Result<Whole> {
        let name = path
            .file_name()
            .ok_or_else(|| io::Error::other(format!("{}: is no file name", path.display())))?;
        if is_folder(path) {
            return Err(io::Error::other(format!(
                "{}: is a folder; name a file in it",
                path.display()
            )));
        }
        let part = (!is_device(path)).then(|| {
            let mut part = name.to_os_string();
            part.push(format!(".part-{}", std::process::id()));
            path.with_file_name(part)
        });
        let file = match &part {
            Some(part) => File::create(part),
            None => OpenOptions::new().write(true).open(path),
        };
        Ok(Whole {
            file: file
                .map_err(|e| io::Error::other(format!("{}: cannot be written: {e}", path.display())))?,
            part,
            path: path.to_path_buf(),
        })
    }

    /// Writes all of it and puts it in place.
    ///
    /// # Errors
    /// When the disk is full or the file cannot be put in place; nothing is left behind then.
    pub fn write(mut self, bytes: &[u8]) -> io::Result<()> {
        self.fill(bytes)?;
        self.place()
    }

    fn fill(&mut self, bytes: &[u8]) -> io::Result<()> {
        let written = self.file.write_all(bytes);
        // A device has nothing to bring to safety.
        let kept = match self.part {
            Some(_) => written.and_then(|()| self.file.sync_all()),
            None => written,
        };
        kept.map_err(|e| self.failed(&e))
    }

    fn place(mut self) -> io::Result<()> {
        if let Some(part) = self.part.take() {
            std::fs::rename(&part, &self.path).map_err(|e| {
                let _ = std::fs::remove_file(&part);
                self.failed(&e)
            })?;
        }
        Ok(())
    }

    fn failed(&self, e: &io::Error) -> io::Error {
        io::Error::other(format!("{}: cannot be written: {e}", self.path.display()))
    }
}

impl Drop for Whole {
    fn drop(&mut self) {
        if let Some(part) = &self.part {
            let _ = std::fs::remove_file(part);
        }
    }
}
