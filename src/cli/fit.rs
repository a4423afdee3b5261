//! `stillroad fit`: a session fitted to the day, what was changed in it, and its timing.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::{check, files};
use crate::memory::Memory;
use crate::plan::fit::{Fitted, Recoveries, Wish, fit};
use crate::plan::{self, Plan};
use crate::store::text_file::{is_taken, save_text};
use crate::store::{Places, memory};
use crate::text::translated;

/// What is wished for of a session today.
#[derive(Args, Clone, Copy, Debug)]
pub struct WishOptions {
    /// The time there is, minutes: repeats go first, then blocks that may be cut, then the ends of long blocks
    #[arg(long, value_name = "N")]
    minutes: Option<u32>,
    /// So many minutes more of warm-up, as +5
    #[arg(long, value_name = "+N", value_parser = more, default_value = "0", hide_default_value = true)]
    warm_up: u32,
    /// Easier recoveries: an effort of one less; or, by =half-way, half of that
    #[arg(long, value_name = "HOW", num_args = 0..=1, require_equals = true, default_missing_value = "easier")]
    easier_recoveries: Option<Easier>,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum Easier {
    /// An effort of one less, other loads by 15 %
    Easier,
    /// Half-way back to the full recoveries
    HalfWay,
}

fn more(text: &str) -> Result<u32, String> {
    let number = text.strip_prefix('+').unwrap_or(text);
    number
        .parse()
        .map_err(|_| "a longer warm-up is a whole number of minutes, as +5".to_owned())
}

impl WishOptions {
    /// As the session is asked.
    pub const fn wish(self) -> Wish {
        Wish {
            minutes: self.minutes,
            warm_up: self.warm_up,
            recoveries: match self.easier_recoveries {
                None => Recoveries::Full,
                Some(Easier::HalfWay) => Recoveries::HalfWay,
                Some(Easier::Easier) => Recoveries::Easier,
            },
        }
    }

    /// Fits a session to what is wished for.
    ///
    /// # Errors
    /// A sentence where it cannot be fitted so.
    pub fn fitted(self, written: &Plan) -> Result<Fitted, String> {
        fit(written, &self.wish()).map_err(|error| error.to_string())
    }
}

/// What is offered where the session was last ridden with easier recoveries, and nothing is said of them now.
pub fn offer(memory: &Memory, written: &Plan, wish: WishOptions) -> String {
    match memory.last_recoveries(&written.name) {
        Recoveries::Full => String::new(),
        _ if wish.easier_recoveries.is_some() => String::new(),
        Recoveries::Easier => {
            let half_way = word!(
                "Last time with easier recoveries; half-way today? Add --easier-recoveries=half-way."
            );
            format!("{half_way}\n")
        }
        Recoveries::HalfWay => {
            let full = word!(
                "Last time half-way back to the full recoveries; full today? They are, unless you add \
                 --easier-recoveries=half-way."
            );
            format!("{full}\n")
        }
    }
}

/// The options of fitting.
#[derive(Args, Clone, Debug)]
pub struct Options {
    /// The session: a file, or the name of a built-in session or of one in your folder
    #[arg(value_name = "SESSION")]
    session: PathBuf,
    #[command(flatten)]
    wish: WishOptions,
    /// Write the fitted session to this file; one that exists is not overwritten
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// The rider whose watts are shown
    #[arg(long, value_name = "FILE")]
    rider: Option<PathBuf>,
}

/// Fits, writes the file where one is asked for, and tells what was changed.
///
/// # Errors
/// A sentence where the session cannot be read or fitted, or the file not be written.
pub fn run(options: &Options) -> Result<String, String> {
    let (written, _) = files::session(&options.session)?;
    let rider = files::rider(options.rider.as_deref())?;
    let fitted = options.wish.fitted(&written)?;
    let mut text = told(&written, &fitted);
    if let Ok(places) = Places::find() {
        let (memory, trouble) = memory::load(&places.memory);
        text += &trouble.map_or_else(String::new, |trouble| format!("{}\n", translated(&trouble)));
        text += &offer(&memory, &written, options.wish);
    }
    text.push('\n');
    let name = match &options.out {
        Some(out) => out.display().to_string(),
        None => word!("fitted").to_owned(),
    };
    let problems = plan::read(&fitted.plan.source).problems;
    text += &check::file_text(&name, Some(&fitted.plan), &problems, &rider);
    if let Some(out) = &options.out {
        if is_taken(out) {
            return Err(say!(
                "{file} is there already and was not overwritten. Give --out another name.",
                file = name
            ));
        }
        save_text(out, entry!("session file"), &fitted.plan.source)
            .map_err(|error| error.to_string())?;
        text += &say!("Written to {file}.", file = name);
        text.push('\n');
    }
    Ok(text)
}

/// What was changed, a line each.
pub fn told(written: &Plan, fitted: &Fitted) -> String {
    if fitted.changes.is_empty() {
        return say!(
            "{session} is {length} long. Nothing was changed.",
            session = written.name,
            length = written.length()
        ) + "\n";
    }
    let mut text = say!(
        "{session} is {length} long as it was written, and {fitted} as fitted.",
        session = written.name,
        length = written.length(),
        fitted = fitted.plan.length()
    );
    text.push('\n');
    for change in &fitted.changes {
        text += &format!("  {}\n", translated(change));
    }
    text
}
