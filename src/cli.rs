//! The command line: arguments, files, colour and exit codes. Does no arithmetic.

pub mod appraise;
pub mod compare;
pub mod dishes;
pub mod draw;
pub mod files;
pub mod foods;
pub mod forecast;
pub mod load;
pub mod plan;
pub mod review;
pub mod roster;
#[cfg(feature = "page")]
pub mod serve;
pub mod swap;
pub mod sweep;
pub mod takeaway;
pub mod why;

use std::io::{self, Write};
use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Args, CommandFactory, Parser, Subcommand, ValueEnum};

use crate::brief::{PhaseKind, StarterOptions, starter};
use crate::person::Sex;

/// Turns a phase of gaining or losing weight into a week of real meals.
///
/// Exit code 0: here is the result. 1: no plan exists, and the result says why. 2: bad input or failure.
#[derive(Debug, Parser)]
#[command(name = "platewright", version)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Write a commented starter brief from a few options
    New(NewOptions),
    /// Energy and the floors and ceilings of a brief, with their reasons and sources
    Targets(plan::TargetsOptions),
    /// The days of meals of a brief, with totals, cost and shopping list
    Plan(plan::PlanOptions),
    /// Change a staple, an item, a food or the region of a plan, keep the rest, and show the difference
    Swap(swap::SwapOptions),
    /// Two plans side by side, differences first
    Compare(compare::CompareOptions),
    /// Weight, fat, lean tissue and expenditure over all phases of a brief, with bands
    Forecast(forecast::ForecastOptions),
    /// Is a claimed change of weight believable, and what would it take
    Appraise(appraise::AppraiseOptions),
    /// Weigh-ins against a brief: trend, expenditure again, and the week that follows
    Review(review::ReviewOptions),
    /// Why this plan: what each target and rule costs; or why there is no plan, and what would open one
    Why(why::WhyOptions),
    /// How one bound, or two, trade off against cost, closeness or a nutrient
    Sweep(sweep::SweepOptions),
    /// Foods of the bundled table and of your own lists
    #[command(subcommand)]
    Foods(foods::FoodsCommand),
    /// Dishes cooked from raw ingredients, bundled and your own
    #[command(subcommand)]
    Dishes(dishes::DishesCommand),
    /// The same tool as a page in your browser, over a folder of briefs
    #[cfg(feature = "page")]
    Serve(serve::ServeOptions),
    /// Completions for a shell
    Completions {
        /// Which shell
        shell: clap_complete::Shell,
    },
    /// The manual page
    Man,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum SexWord {
    Female,
    Male,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum PhaseWord {
    Gain,
    Hold,
    Lose,
}

/// Options of `new`.
#[derive(Debug, Args)]
struct NewOptions {
    /// Kitchen
    #[arg(long, default_value = "us")]
    region: String,
    /// Sex, for the equations
    #[arg(long, value_enum, default_value = "female")]
    sex: SexWord,
    /// Age in years
    #[arg(long, default_value_t = 30)]
    age: u32,
    /// Height with its unit, "168 cm" or "5 ft 6 in"
    #[arg(long, default_value = "168 cm")]
    height: String,
    /// Weight with its unit, "61 kg" or "134 lb"
    #[arg(long, default_value = "61 kg")]
    weight: String,
    /// What the first phase does
    #[arg(long, value_enum, default_value = "gain")]
    phase: PhaseWord,
    /// Diet; may be given more than once
    #[arg(long)]
    diet: Vec<String>,
    /// Most money, "65 USD/week"
    #[arg(long)]
    budget: Option<String>,
    /// File to write; never overwrites one. Standard output without it
    #[arg(short, long)]
    output: Option<PathBuf>,
}

/// Runs the command and returns its exit code: 0 result, 1 no plan exists, 2 bad input or failure.
pub fn main() -> ExitCode {
    let arguments = Arguments::parse();
    let mut out = io::BufWriter::new(io::stdout().lock());
    let result = run(arguments.command, &mut out);
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

fn run(command: Command, out: &mut dyn Write) -> io::Result<u8> {
    match command {
        Command::New(options) => new(options, out),
        Command::Targets(options) => plan::targets(&options, out),
        Command::Plan(options) => plan::plan(&options, out),
        Command::Swap(options) => swap::swap(&options, out),
        Command::Compare(options) => compare::compare(&options, out),
        Command::Forecast(options) => forecast::forecast(&options, out),
        Command::Appraise(options) => appraise::appraise(&options, out),
        Command::Review(options) => review::review(&options, out),
        Command::Why(options) => why::why(&options, out),
        Command::Sweep(options) => sweep::sweep(&options, out),
        Command::Foods(command) => foods::run(command, out, &mut io::stderr().lock()),
        Command::Dishes(command) => dishes::run(command, out, &mut io::stderr().lock()),
        #[cfg(feature = "page")]
        Command::Serve(options) => serve::serve(&options, out),
        Command::Completions { shell } => {
            let mut bytes = Vec::new();
            clap_complete::generate(shell, &mut Arguments::command(), "platewright", &mut bytes);
            out.write_all(&bytes).map(|()| 0)
        }
        Command::Man => clap_mangen::Man::new(Arguments::command())
            .render(&mut &mut *out)
            .map(|()| 0),
    }
}

fn new(options: NewOptions, out: &mut dyn Write) -> io::Result<u8> {
    let text = starter(&StarterOptions {
        region: options.region,
        sex: match options.sex {
            SexWord::Female => Sex::Female,
            SexWord::Male => Sex::Male,
        },
        age: options.age,
        height: options.height,
        weight: options.weight,
        phase: match options.phase {
            PhaseWord::Gain => PhaseKind::Gain,
            PhaseWord::Hold => PhaseKind::Hold,
            PhaseWord::Lose => PhaseKind::Lose,
        },
        diets: options.diet,
        budget: options.budget,
    });
    // What was asked for must read back; mistakes in the options show as in any brief.
    if let Err(problems) = crate::brief::parse(&text) {
        draw::to_stderr("the new brief", &text, &problems);
        return Ok(2);
    }
    match options.output {
        None => out.write_all(text.as_bytes()).map(|()| 0),
        Some(path) if path.exists() => Err(io::Error::other(format!(
            "{} exists already; name another file or remove it first",
            path.display()
        ))),
        Some(path) => files::Whole::create(&path)?.write(text.as_bytes()).map(|()| 0),
    }
}
