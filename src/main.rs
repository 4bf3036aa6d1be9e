//! The `platewright` command. Everything it does stands in [`platewright::cli`].

fn main() -> std::process::ExitCode {
    platewright::cli::main()
}
