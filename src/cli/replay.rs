//! `stillroad replay`: a recording ridden again through the same core, and every difference from what was kept.

use std::path::PathBuf;
use std::time::Duration;

use clap::Args;

use super::logs::{Found, feed};
use super::ride::Pace;
use super::ride::line::Line;
use crate::engine::drive::Clock;
use crate::engine::replay::{KeptFiles, LogEnd, Replay, Replayed};
use crate::record::compare::DIFFERENCES_KEPT;
use crate::record::{EventLine, InputLine, NoteLine, Row, Table};
use crate::store::recording::Recording;
use crate::text::{self, Language, translated};
use crate::time::{Instant, Span};

/// The screen is told this often at most, by life's clock.
const SHOWN_EVERY: Span = Span::from_millis(200);

/// The options of a replay.
#[derive(Args, Clone, Debug)]
pub struct Options {
    /// A ride's folder, or a file that `stillroad export` made
    #[arg(value_name = "RECORDING")]
    recording: PathBuf,
    /// How fast: max, real, or a whole number of times life's pace (100 at most), which shows the ride as it goes
    #[arg(long, default_value = "max", value_name = "PACE")]
    pace: Pace,
}

/// Replays, and gives what to print and whether nothing differs.
///
/// # Errors
/// A sentence where there is no recording, or it cannot be read.
pub fn run(options: &Options) -> Result<(String, bool), String> {
    let recording = Recording::open(&options.recording)?;
    let mut pacing = match options.pace {
        Pace::Most => None,
        Pace::Times(pace) => Some(Pacing::new(pace)),
    };
    let language = text::language();
    let replayed = replay(&recording, |replay| {
        if let Some(pacing) = &mut pacing {
            text::within(language, || pacing.wait(replay));
        }
    })?;
    if let Some(pacing) = pacing {
        pacing.line.end();
    }
    Ok(report(&recording.name(), &replayed))
}

/// Replays a whole recording and compares it, in English, as it was kept. `seen` looks on after each line of the
/// recording's own log.
///
/// # Errors
/// A sentence where its log or another file of it cannot be read.
pub fn replay(recording: &Recording, seen: impl FnMut(&Replay)) -> Result<Replayed, String> {
    text::within(Language::English, || replayed(recording, seen))
}

fn replayed(recording: &Recording, mut seen: impl FnMut(&Replay)) -> Result<Replayed, String> {
    let mut replay = Replay::default();
    let mut reached = 1;
    let wrong = feed(recording, &mut |Found { before, part, item }| {
        if part > reached {
            reached = part;
            replay.next_part();
        }
        match before {
            Some(name) => replay.before(&format!("{name}/{}", InputLine::FILE), item),
            None => {
                let more = replay.line(item);
                seen(&replay);
                more
            }
        }
    })?;
    let kept = kept_files(recording)?;
    let mut replayed = replay.finish(&kept);
    for says in wrong {
        replayed.differences.line(
            InputLine::FILE,
            Some(2),
            entry!("a log that goes on from another"),
            &says,
        );
    }
    Ok(replayed)
}

fn kept_files(recording: &Recording) -> Result<KeptFiles, String> {
    let bytes = |file: &str| {
        recording.bytes(file).map_err(|error| {
            say!(
                "{file} of this recording cannot be read ({error}). Check who may read it, and the disk.",
                file,
                error
            )
        })
    };
    Ok(KeptFiles {
        ride: bytes("ride.toml")?,
        session: bytes("session.toml")?,
        written: bytes("written.toml")?,
        rider: bytes("rider.toml")?,
        samples: bytes(Row::FILE)?,
        events: bytes(EventLine::FILE)?,
        notes: bytes(NoteLine::FILE)?,
    })
}

/// What is told of a replay, and whether nothing differs.
pub fn report(name: &str, replayed: &Replayed) -> (String, bool) {
    let differences = &replayed.differences;
    let mut text = String::new();
    for difference in &differences.told {
        text += &format!("{}\n", translated(&difference.to_string()));
    }
    if differences.count > differences.told.len() as u64 {
        text += &say!(
            "{count} more differences: only the first {most} are shown.",
            count = differences.count - differences.told.len() as u64,
            most = DIFFERENCES_KEPT
        );
        text.push('\n');
    }
    for remark in &differences.remarks {
        text += &format!("{}\n", translated(remark));
    }
    let [rows, events, notes] = replayed.lines;
    text += &say!(
        "{name}: {inputs} inputs gave {rows} rows, {events} events, {notes} notes and {requests} requests to devices.",
        name,
        inputs = replayed.inputs,
        rows,
        events,
        notes,
        requests = replayed.requests
    );
    text.push('\n');
    if let Some(end) = end_words(&replayed.end) {
        text += &end;
        text.push('\n');
    }
    text += &match differences.count {
        0 => word!("Nothing differs from what was kept.").to_owned(),
        1 => word!("1 difference from what was kept.").to_owned(),
        count => say!("{count} differences from what was kept.", count),
    };
    (text, differences.count == 0)
}

/// Where the log ends; nothing where it ends as it should.
fn end_words(end: &LogEnd) -> Option<String> {
    Some(match end {
        LogEnd::Closed => return None,
        LogEnd::Open(line) => say!(
            "The log ends at line {line} without its closing line: the program was killed, or the log was cut off. The \
             replay goes as far as the log does.",
            line
        ),
        LogEnd::Full(line) => say!(
            "The log had its full size at line {line} and ends there; the ride went on without it.",
            line
        ),
        LogEnd::Gap(line) => say!(
            "At line {line} of the log inputs are missing: the disk or the memory did not keep up. The replay ends there, \
             since it could not be exact any more.",
            line
        ),
        LogEnd::Unusable(why) => say!("The log cannot be replayed. {why}", why = translated(why)),
        LogEnd::Failed(line) => say!(
            "The program fails on the input of line {line}: whatever the differences are, this is a fault of the program.",
            line
        ),
    })
}

/// Holds a replay to a pace and shows the ride.
struct Pacing {
    pace: u64,
    clock: Clock,
    /// The log's moment and the clock's at the first line.
    began: Option<(Instant, Instant)>,
    shown: Instant,
    line: Line,
}

impl Pacing {
    fn new(pace: u32) -> Self {
        Self {
            pace: u64::from(pace.max(1)),
            clock: Clock::new(),
            began: None,
            shown: Instant::ZERO,
            line: Line::new(),
        }
    }

    /// Waits until a line's moment has come.
    fn wait(&mut self, replay: &Replay) {
        let (log, life) = *self.began.get_or_insert((replay.at(), self.clock.now()));
        let due = life + Span(replay.at().since(log).0 / self.pace);
        loop {
            let now = self.clock.now();
            if (now.since(self.shown) >= SHOWN_EVERY || due > now)
                && let Some(snapshot) = replay.snapshot()
            {
                self.shown = now;
                self.line.show(&snapshot);
            }
            let left = due.since(self.clock.now());
            if left == Span::ZERO {
                return;
            }
            std::thread::sleep(Duration::from_micros(left.0.min(SHOWN_EVERY.0)));
        }
    }
}
