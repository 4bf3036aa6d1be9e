//! What every command with meals needs: foods, dishes, kitchens and prices, from the bundled data and the
//! user's own files. The one place where they are loaded.

use super::plan::{Prepared, refuse};
use super::{dishes, files, foods};
use crate::kitchen::{Catalogue, Source};
use crate::model::build::Pieces;
use crate::prices::PriceList;
use crate::ready::Larder;
use crate::roster::Fingerprint;
use clap::Args;
use std::fs::File;
use std::io::{self, Read};
use std::path::{Path, PathBuf};

/// Options that name the user's own data.
#[derive(Debug, Args)]
pub struct OwnData {
    /// A price list of your own instead of the bundled one of the kitchen
    #[arg(long, value_name = "FILE")]
    prices: Option<PathBuf>,
    /// Foods of your own over the bundled table; may be given more than once
    #[arg(long = "foods", value_name = "FILE")]
    foods: Vec<PathBuf>,
    /// Dishes of your own beside the bundled ones; may be given more than once
    #[arg(long = "dishes", value_name = "FILE")]
    dishes: Vec<PathBuf>,
}

impl OwnData {
    /// Adds what the files hold to a fingerprint.
    ///
    /// # Errors
    /// Files that cannot be read, each named.
    pub(super) fn add_to(&self, print: &mut Fingerprint) -> io::Result<()> {
        let kinds = [
            ("prices", self.prices.as_slice()),
            ("foods", &self.foods),
            ("dishes", &self.dishes),
        ];
        for (kind, paths) in kinds {
            print.add(kind.as_bytes());
            for path in paths {
                add_file(path, print)
                    .map_err(|e| io::Error::other(format!("{}: cannot be read: {e}", path.display())))?;
            }
        }
        Ok(())
    }
}

/// Adds the bytes of a file, or of the files of a folder in the order of their names.
fn add_file(path: &Path, print: &mut Fingerprint) -> io::Result<()> {
    if path == Path::new("-") {
        return Err(io::Error::other(
            "a roster does not take it from standard input; name a file",
        ));
    }
    if path.is_dir() {
        let mut paths = Vec::new();
        for entry in std::fs::read_dir(path)? {
            paths.push(entry?.path());
        }
        paths.sort();
        return paths
            .iter()
            .filter(|p| p.is_file())
            .try_for_each(|p| add_file(p, print));
    }
    let (mut file, mut block, mut size) = (File::open(path)?, vec![0; 1 << 16], 0_u64);
    loop {
        let read = file.read(&mut block)?;
        if read == 0 {
            print.add(&size.to_le_bytes());
            return Ok(());
        }
        size += read as u64;
        print.feed(&block[..read]);
    }
}

/// What a model is built from, loaded, with a brief's kitchen and prices in it.
pub(super) struct Loaded(Larder);

impl Loaded {
    /// All of it.
    pub(super) fn larder(&self) -> &Larder {
        &self.0
    }

    /// The pieces of a model for a prepared brief; the exit code when its mistakes have been shown.
    pub(super) fn pieces<'a>(&'a self, p: &'a Prepared) -> io::Result<Result<Pieces<'a>, u8>> {
        match self.0.pieces(&p.brief, &p.energy, &p.targets) {
            Ok(pieces) => Ok(Ok(pieces)),
            Err(problems) => refuse(&p.path, &p.text, &problems).map(Err),
        }
    }
}

/// Loads the foods, catalogue and prices; the exit code when they cannot be.
pub(super) fn load(own: &OwnData) -> io::Result<Result<Loaded, u8>> {
    let Some(table) = foods::table_with(&own.foods, &mut io::stderr().lock())? else {
        return Ok(Err(2));
    };
    let mut catalogue = match Catalogue::bundled(&table) {
        Ok(c) => c,
        Err(problems) => return refuse("the bundled catalogue", "", &problems).map(Err),
    };
    if !dishes::add(&mut catalogue, &table, &own.dishes, &mut io::stderr().lock())? {
        return Ok(Err(2));
    }
    let prices = match &own.prices {
        None => None,
        Some(path) => {
            let text = files::read(path)?;
            let name = path.display().to_string();
            let source = Source {
                name: &name,
                text: &text,
            };
            match PriceList::read(&source, &catalogue) {
                Ok(list) => Some(list),
                Err(problems) => return refuse(&name, "", &problems).map(Err),
            }
        }
    };
    Ok(Ok(Loaded(Larder::new(table, catalogue, prices))))
}
