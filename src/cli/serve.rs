//! `serve`: the same tool as a page in a browser, on this machine alone; only the lists can be opened to the house.

use crate::page;
use clap::Args;
use std::io::{self, Write};
use std::net::SocketAddr;
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
    /// Also serve the shopping and cooking lists, and nothing else, to other machines of the house: an address of this
    /// machine, or 0.0.0.0 for all, with a port. Each brief gets an address with a new key, printed at the start;
    /// whoever has it sees the lists and can tick them
    #[arg(long, value_name = "ADDRESS:PORT", value_parser = address)]
    lists_on: Option<SocketAddr>,
}

/// An address with its port; no name, since whoever asks must do so by the number.
fn address(text: &str) -> Result<SocketAddr, String> {
    text.parse().map_err(|_| {
        "give an IP address of this machine with a port, such as 192.168.1.20:8418, [fd00::20]:8418 or 0.0.0.0:8418".into()
    })
}

/// Runs `serve` until the process is told to end. The first line of standard output is the address.
///
/// # Errors
/// A folder that cannot be read and a port that is taken.
pub fn serve(options: &ServeOptions, out: &mut dyn Write) -> io::Result<u8> {
    let mut told = Ok(());
    page::serve(
        &options.folder,
        options.port,
        options.lists_on,
        |address, lists| {
            told = writeln!(out, "http://{address}/").and_then(|()| out.flush());
            let mut err = io::stderr().lock();
            let _ = writeln!(
                err,
                "Open this address in a browser on this machine. Ctrl-C ends it."
            );
            if options.lists_on.is_some() {
                let _ = writeln!(
                    err,
                    "The lists are open to this network until then, to whoever has their address (not encrypted):"
                );
                for (name, address) in lists {
                    let _ = writeln!(err, "  {name}: {address}");
                }
                if lists.is_empty() {
                    let _ = writeln!(
                        err,
                        "  no brief is in this folder yet; start again when there is one"
                    );
                }
            }
        },
    )?;
    told.map(|()| 0)
}
