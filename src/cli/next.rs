//! `stillroad next`: the next session that a ride proposes, with its forecast beside that of the session as it was.

use std::path::{Path, PathBuf};

use clap::Args;
use serde_json::{Value, json};

use super::forecast::lowest;
use super::review::{folder, wrapped};
use crate::forecast::{Reckoned, reckon};
use crate::plan::{self, Plan};
use crate::record::RideStart;
use crate::review::next::{CAUTION, Next, Proposal, propose, written};
use crate::review::words::plain;
use crate::review::{Asked, VERSION, review};
use crate::rider::Rider;
use crate::store::{read_raw, read_ride, ride_list, text_file};
use crate::text::{self, translated};

/// The options of a next session.
#[derive(Args, Clone, Debug)]
pub struct Options {
    /// The folder of a ride, or its name among the rides (see `stillroad where`)
    #[arg(value_name = "RECORDING")]
    recording: PathBuf,
    /// Write the proposed session to this file; one that exists is not overwritten
    #[arg(long, value_name = "FILE")]
    to: Option<PathBuf>,
    /// As JSON
    #[arg(long)]
    pub(super) json: bool,
}

/// Proposes a next session, writes its file where one is asked for, and tells what was changed. Gives the text, and
/// whether what was asked for was done: a file that was asked for is not written where nothing is proposed.
///
/// # Errors
/// A sentence where the recording cannot be opened, or the file not be written.
pub fn run(options: &Options) -> Result<(String, bool), String> {
    // A bare name lies in the folder where the program was started.
    let to = options.to.as_ref().map(|path| Path::new(".").join(path));
    if let (Some(at), Some(path)) = (&to, &options.to)
        && text_file::is_taken(at)
    {
        return Err(say!(
            "{file} is there already, so nothing was written. Give --to another name.",
            file = path.display()
        ));
    }
    let folder = folder(&options.recording);
    let mut ride = read_ride(&folder).map_err(|error| {
        say!(
            "{error} {path} was not looked at; name the folder of a ride.",
            error = translated(&error.to_string()),
            path = options.recording.display()
        )
    })?;
    let (raw, mut problems) = read_raw(&folder);
    ride.problems.append(&mut problems);
    let review = review(&ride_list::recording(&ride, &raw));
    let next = propose(&ride.start, &review);
    if let (Some(at), Ok(proposal)) = (&to, &next) {
        text_file::save_text(at, entry!("session file"), &proposal.text)
            .map_err(|error| error.to_string())?;
    }
    let done = next.is_ok() || options.to.is_none();
    let forecasts = forecasts(&ride.start, &next);
    let text = if options.json {
        as_json(&review.session, &next, forecasts.as_ref(), options)
    } else {
        words(&review.session, &next, forecasts.as_ref(), options)
    };
    Ok((text, done))
}

/// What is reckoned of the session as it was written and of its copy, for the rider of the day.
struct Forecasts {
    rider: Rider,
    before: (Plan, Reckoned),
    after: (Plan, Reckoned),
}

fn forecasts(start: &RideStart, next: &Next) -> Option<Forecasts> {
    let proposal = next.as_ref().ok()?;
    let rider = Asked::of(start).rider?;
    let of = |plan: Plan| {
        let reckoned = reckon(&plan, &rider);
        (plan, reckoned)
    };
    Some(Forecasts {
        before: of(written(start)?),
        after: of(plan::read(&proposal.text).plan?),
        rider,
    })
}

fn as_json(session: &str, next: &Next, forecasts: Option<&Forecasts>, options: &Options) -> String {
    let forecast = |of: fn(&Forecasts) -> &(Plan, Reckoned)| {
        forecasts.map(of).map(|(plan, reckoned)| {
            json!({ "name": plan.name, "whole_s": plan.length().seconds(), "asked": reckoned })
        })
    };
    let whole: Value = json!({
        "version": VERSION,
        "session": session,
        "name": next.as_ref().ok().map(|proposal| &proposal.name),
        "changes": next.as_ref().map_or(&[][..], |proposal| &proposal.changes),
        "unchanged_because": next.as_ref().err(),
        "caution": CAUTION,
        "as_written": forecast(|all| &all.before),
        "as_proposed": forecast(|all| &all.after),
        "text": next.as_ref().ok().map(|proposal| &*proposal.text),
        // As it is shown: not every name of a file is text that JSON could hold.
        "written_to": options
            .to
            .as_ref()
            .filter(|_| next.is_ok())
            .map(|path| path.display().to_string()),
    });
    format!("{whole:#}\n")
}

fn words(session: &str, next: &Next, forecasts: Option<&Forecasts>, options: &Options) -> String {
    let proposal = match next {
        Ok(proposal) => proposal,
        Err(why) => {
            let mut text = format!("{}\n{}", plain(session), wrapped(&translated(why)));
            if let Some(to) = &options.to {
                text += &say!("{file} was not written.", file = to.display());
                text.push('\n');
            }
            return text;
        }
    };
    let mut text = changes(session, proposal);
    if let Some(all) = forecasts {
        text += &beside(all);
    }
    text.push('\n');
    text += &wrapped(text::word(CAUTION));
    text += &match &options.to {
        Some(to) => say!("Written to {file}.", file = to.display()),
        None => word!("Nothing was written. --to FILE writes it.").to_owned(),
    };
    text.push('\n');
    text
}

fn changes(session: &str, proposal: &Proposal) -> String {
    let mut text = say!(
        "{session}, from a ride of {ridden}.",
        session = plain(&proposal.name),
        ridden = plain(session)
    );
    text.push('\n');
    for change in &proposal.changes {
        let words = say!(
            "Line {line}: {change}",
            line = change.line,
            change = change.words()
        );
        text += &format!("\n{words}\n{}", wrapped(&translated(&change.why)));
    }
    text
}

/// The forecasts of both, one under the other.
fn beside(all: &Forecasts) -> String {
    let rider = &all.rider;
    let heading = say!(
        "Forecast for {rider} as on the day (threshold {threshold}, W′ {kilojoules:.1} kJ), an estimate:",
        rider = plain(rider.called()),
        threshold = rider.threshold,
        kilojoules = rider.w_prime.0 / 1000.0
    );
    let mut text = format!("\n{heading}\n");
    let (written, proposed) = (word!("as written"), word!("as proposed"));
    let width = written.chars().count().max(proposed.chars().count());
    for (what, (plan, reckoned)) in [(written, &all.before), (proposed, &all.after)] {
        let told = say!(
            "{length}, {lowest}, {work:.0} kJ of work",
            length = plan.length(),
            lowest = lowest(reckoned.lowest.as_ref()),
            work = reckoned.work_kj
        );
        text += &format!("  {what:<width$}  {told}\n");
        for one in &reckoned.beyond {
            let beyond = say!("beyond this rider: {block}", block = plain(&one.told()));
            text += &format!("  {:<width$}  {beyond}\n", "");
        }
    }
    text
}
