//! `serve`: the same tool as a page in a browser, on this machine alone.

use crate::page;
use clap::Args;
use std::io::{self, Write};
use std::path::PathBuf;

/// Options of `serve`.
#[derive(Debug, Args)]
pub struct ServeOptions {
    /// The folder of your briefs
    #[arg(default_value = ".")]
    folder: PathBuf,
    /// Port on this machine; 0 takes a free one
    #[arg(long, default_value_t = 8417)]
    port: u16,
}

/// Runs `serve` until the process is told to end. The first line of standard output is the address.
///
/// # Errors
/// A folder that cannot be read and a port that is taken.
pub fn serve(options: &ServeOptions, out: &mut dyn Write) -> io::Result<u8> {
    let mut told = Ok(());
    page::serve(&options.folder, options.port, |address| {
        told = writeln!(out, "http://{address}/").and_then(|()| out.flush());
        let _ = writeln!(
            io::stderr().lock(),
            "Open this address in a browser on this machine. Ctrl-C ends it."
        );
    })?;
    told.map(|()| 0)
}
