//! `stillroad rehearse`: a session's cues as they come due, without devices, and which of them come late.

use std::path::PathBuf;
use std::time::Duration;

use clap::Args;

use super::ride::Pace;
use crate::engine::drive::Clock;
use crate::lead::{Line, rehearse};
use crate::plan::Plan;
use crate::time::Span;

/// It is looked so often whether a cue is due.
const LOOK: Duration = Duration::from_millis(20);

/// The options of a rehearsal.
#[derive(Args, Clone, Debug)]
pub struct Options {
    /// The session: a file, or the name of a built-in session or of one in your folder
    #[arg(value_name = "SESSION")]
    session: PathBuf,
    /// How fast: real, a whole number of times life's pace (100 at most), or max (all at once)
    #[arg(long, default_value = "real", value_name = "PACE")]
    pace: Pace,
}

/// Rehearses, printing each cue when it is due, and gives what to print at the end and whether every cue came in time.
///
/// # Errors
/// A sentence: what cannot be read.
pub fn run(options: &Options) -> Result<(String, bool), String> {
    let (plan, _) = super::files::session(&options.session)?;
    let lines = rehearse(&plan);
    super::print(&say!(
        "{session}: {length} in all, {count} cues.",
        session = plan.name,
        length = plan.length(),
        count = lines.len()
    ));
    match options.pace {
        Pace::Most => {
            for (index, line) in lines.iter().enumerate() {
                super::print(&shown(line, lines.get(index + 1)));
            }
        }
        Pace::Times(pace) => at_a_pace(&lines, pace),
    }
    Ok(outcome(&plan, &lines))
}

fn at_a_pace(lines: &[Line], pace: u32) {
    let clock = Clock::new();
    let session = || Span(clock.now().0.saturating_mul(u64::from(pace)));
    for (index, line) in lines.iter().enumerate() {
        while session() < line.begins {
            std::thread::sleep(LOOK);
        }
        super::print(&shown(line, lines.get(index + 1)));
    }
}

/// A cue with its clock, and the next one early enough to draw breath.
fn shown(line: &Line, next: Option<&Line>) -> String {
    let speaker = line.speaker.as_ref();
    let speaker = speaker.map_or_else(String::new, |speaker| format!("{speaker}: "));
    let seconds = line.ends.less(line.begins).seconds().ceil();
    let next = match next {
        None => say!("({seconds:.0} s to say, the last one)", seconds),
        Some(next) => say!(
            "({seconds:.0} s to say, next in {time})",
            seconds,
            time = next.due.less(line.ends)
        ),
    };
    let late = line.late().map_or_else(String::new, |late| {
        say!(", {seconds:.1} s LATE", seconds = late.seconds())
    });
    let left = say!(
        "{left} left of {block}",
        left = line.left,
        block = line.block
    );
    format!(
        "{:>7}  {left}{late}\n         {speaker}{}\n         {next}",
        line.due.to_string(),
        line.says,
    )
}

/// What the rehearsal came to.
fn outcome(plan: &Plan, lines: &[Line]) -> (String, bool) {
    let talk: Span = lines.iter().map(|line| line.ends.less(line.begins)).sum();
    let late: Vec<String> = lines
        .iter()
        .filter_map(|line| {
            let late = line.late()?;
            let words: Vec<&str> = line.says.split_whitespace().take(5).collect();
            let late = say!(
                "{time} in {block}: {seconds:.1} s late, while the one before is still being said: {words} …",
                time = line.due,
                block = line.block,
                seconds = late.seconds(),
                words = words.join(" ")
            );
            Some(format!("  {late}"))
        })
        .collect();
    let share = 100.0 * talk.seconds() / plan.length().seconds().max(1.0);
    let spoken = say!("{talk} of talk, {share:.0} % of the session.", talk, share);
    let all = match late.len() {
        0 => {
            let all = word!("Every cue comes in time.");
            return (format!("{spoken} {all}"), true);
        }
        1 => word!("1 cue comes late:").to_owned(),
        count => say!("{count} cues come late:", count),
    };
    (format!("{spoken} {all}\n{}", late.join("\n")), false)
}
