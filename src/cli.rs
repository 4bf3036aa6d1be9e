//! The command line: arguments, files, colour and exit codes. Does no arithmetic.

pub mod draw;

use std::process::ExitCode;

/// Runs the command and returns its exit code: 0 result, 1 no plan exists, 2 bad input or failure.
pub fn main() -> ExitCode {
    ExitCode::SUCCESS
}
