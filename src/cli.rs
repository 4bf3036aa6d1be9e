//! The command line: arguments, files, colour and exit codes. Does no arithmetic.

pub mod draw;
pub mod foods;

use std::io::{self, Write};
use std::process::ExitCode;

use clap::{Parser, Subcommand};

/// Turns a phase of gaining or losing weight into a week of real meals.
#[derive(Debug, Parser)]
#[command(name = "platewright", version)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Foods of the bundled table and of your own lists
    #[command(subcommand)]
    Foods(foods::FoodsCommand),
}

/// Runs the command and returns its exit code: 0 result, 1 no plan exists, 2 bad input or failure.
pub fn main() -> ExitCode {
    let Arguments {
        command: Command::Foods(command),
    } = Arguments::parse();
    let mut out = io::BufWriter::new(io::stdout().lock());
    let result = foods::run(command, &mut out, &mut io::stderr().lock());
    match result.and_then(|code| out.flush().map(|()| code)) {
        Ok(code) => ExitCode::from(code),
        // A reader that closes early, like `head`, has what it wanted.
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => ExitCode::SUCCESS,
        Err(error) => {
            let _ = writeln!(io::stderr(), "error: {error}");
            ExitCode::from(2)
        }
    }
}
