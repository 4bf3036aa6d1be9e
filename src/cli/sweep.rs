//! s
use clap::Args;
use std::io::{self,Write};
/// s
#[derive(Debug, Args)]
pub struct SweepOptions {
    /// b
    brief: std::path::PathBuf,
}
/// s
/// # Errors
/// s
pub fn sweep(_o: &SweepOptions, _out: &mut dyn Write) -> io::Result<u8> { Ok(0) }
