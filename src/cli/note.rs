//! `stillroad note`: words about a recording and how the day was, added to its notes, or words put into a file that is sent
//! and taken in elsewhere.

use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use crate::engine::drive::wall_ms;
use crate::record::noted::{About, Circumstance, Fan, Noted, Who};
use crate::record::{EventLine, NoteLine, Table, decode};
use crate::store::recording::Recording;
use crate::store::{notes, read_ride};
use crate::text::{self, Language};
use crate::toml_table::a_capital;
use crate::units::{Legal, legal};

/// Words of a note are no more than this, bytes: some pages.
const LONGEST: usize = 16 << 10;

/// The options of a note.
#[derive(Args, Clone, Debug)]
pub struct Options {
    /// The ride's folder; or, with --to, any recording that the note is about
    #[arg(value_name = "RECORDING")]
    recording: PathBuf,
    /// What is to be said
    #[arg(
        value_name = "WORDS",
        required_unless_present_any = ["take", "fan", "room", "sleep", "soreness", "paused", "ended_early"],
        conflicts_with = "take"
    )]
    words: Option<String>,
    /// Who says it
    #[arg(long, default_value = "rider", value_name = "WHO")]
    from: Whose,
    /// The number of the block it is about, from 1; if left out it is about the whole session
    #[arg(long, value_name = "N", requires = "words", value_parser = clap::value_parser!(u32).range(1..))]
    block: Option<u32>,
    /// The number of the mark it is about, as the ride said it when the moment was marked
    #[arg(long, value_name = "N", requires = "words", conflicts_with = "block")]
    mark: Option<u32>,
    /// Put it into a file of its own instead, to be sent; one that exists is not overwritten
    #[arg(long, value_name = "FILE", requires = "words")]
    to: Option<PathBuf>,
    /// Take in the notes of a file that somebody sent
    #[arg(long, value_name = "FILE", conflicts_with = "to")]
    take: Option<PathBuf>,
    #[command(flatten)]
    day: Day,
}

/// How the day was. What is told again later stands for what was told before.
#[derive(Args, Clone, Debug)]
struct Day {
    /// How the fan was set
    #[arg(long, value_name = "HOW", conflicts_with_all = ["to", "take"])]
    fan: Option<FanSet>,
    /// The room's temperature, -10 to 50 °C
    #[arg(long, value_name = "CELSIUS", allow_negative_numbers = true, conflicts_with_all = ["to", "take"])]
    room: Option<f64>,
    /// Sleep of the night before, 0 to 24 hours
    #[arg(long, value_name = "HOURS", allow_negative_numbers = true, conflicts_with_all = ["to", "take"])]
    sleep: Option<f64>,
    /// Soreness of the legs before the ride, 0 to 10
    #[arg(long, value_name = "0..10", allow_negative_numbers = true, conflicts_with_all = ["to", "take"])]
    soreness: Option<f64>,
    /// Why the clock stood
    #[arg(long, value_name = "WORDS", conflicts_with_all = ["to", "take"])]
    paused: Option<String>,
    /// Why the ride was ended early
    #[arg(long, value_name = "WORDS", conflicts_with_all = ["to", "take"])]
    ended_early: Option<String>,
}

#[derive(Clone, Copy, Debug, PartialEq, ValueEnum)]
enum Whose {
    /// Who rode it
    Rider,
    /// Who wrote the session, or reads the recording
    Coach,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum FanSet {
    /// There was none, or it was off
    None,
    /// Low
    Low,
    /// High
    High,
}

/// Adds the note, and says so.
///
/// # Errors
/// A sentence where there is no such recording, where it has no such mark, where a figure cannot be, or where it cannot be
/// added to. Nothing is kept then.
pub fn run(options: &Options) -> Result<String, String> {
    if let Some(file) = &options.take {
        return take(&options.recording, file);
    }
    let now = wall_ms();
    let mut lines: Vec<NoteLine> = Vec::new();
    for circumstance in options.day.told()? {
        if options.from == Whose::Coach {
            return Err(word!(
                "How the day was is the rider's own to say, so nothing was kept. Leave out --from coach."
            )
            .to_owned());
        }
        lines.push(NoteLine::day(now, &circumstance));
    }
    if let Some(words) = &options.words {
        let about = match (options.block, options.mark) {
            (Some(number), _) => About::Block(number),
            (None, Some(number)) => About::Mark(number),
            (None, None) => About::Session,
        };
        let who = match options.from {
            Whose::Rider => Who::Rider,
            Whose::Coach => Who::Coach,
        };
        lines.push(NoteLine::words(now, who, about, checked(words)?));
    }
    if let Some(to) = &options.to {
        let [note] = &*lines else {
            return Err(
                word!("A file to be sent holds words. Nothing was kept: say some.").to_owned(),
            );
        };
        if let Some(number) = options.mark {
            has_mark(number, &marks_of(&options.recording)?)?;
        }
        text::within(Language::English, || notes::write(to, note))?;
        return Ok(say!(
            "{file} holds the note. Whoever has the ride takes it in with `stillroad note RECORDING --take FILE`.",
            file = to.display()
        ));
    }
    let ride = read_ride(&options.recording).map_err(|error| error.to_string())?;
    if let Some(number) = options.mark {
        has_mark(number, &marks(&ride.events))?;
    }
    let added = added(&options.recording, &lines)?;
    Ok(match added {
        1 => say!(
            "The note is added to {folder}.",
            folder = ride.folder.display()
        ),
        count => say!(
            "{count} notes are added to {folder}.",
            count,
            folder = ride.folder.display()
        ),
    })
}

/// Adds notes, and gives how many are new. What a recording keeps is English, whoever reads what is printed.
fn added(recording: &Path, notes: &[NoteLine]) -> Result<usize, String> {
    text::within(Language::English, || notes::add(recording, notes))
}

/// Takes in the notes of a file.
fn take(recording: &Path, file: &Path) -> Result<String, String> {
    let sent = notes::read(file)?;
    let ride = read_ride(recording).map_err(|error| error.to_string())?;
    if sent.iter().any(|note| note.rating.is_some()) {
        return Err(say!(
            "{file} holds ratings, which are the rider's own: nothing was added. Take them out of it first.",
            file = file.display()
        ));
    }
    for note in &sent {
        match note.noted() {
            Some(Noted::Day(_) | Noted::Unreadable) => {
                return Err(say!(
                    "{file} tells how the day was, which is the rider's own to say: nothing was added. Take it out of it first.",
                    file = file.display()
                ));
            }
            Some(Noted::Words {
                about: About::Mark(number),
                ..
            }) => has_mark(number, &marks(&ride.events))?,
            _ => {}
        }
    }
    let added = added(recording, &sent)?;
    let known = sent.len() - added;
    Ok(match known {
        0 => say!(
            "{count} notes are added to {folder}.",
            count = added,
            folder = recording.display()
        ),
        _ => say!(
            "{added} notes are added to {folder}; {known} were in it already.",
            added,
            folder = recording.display(),
            known
        ),
    })
}

impl Day {
    /// What was told of it, each in its range.
    fn told(&self) -> Result<Vec<Circumstance>, String> {
        let figure = |value: Option<f64>, range: Legal| match value.map(|value| range.check(value))
        {
            Some(Err(error)) => Err(say!(
                "{why}, so nothing was kept.",
                why = a_capital(&text::translated(&error.to_string()))
            )),
            Some(Ok(value)) => Ok(Some(value)),
            None => Ok(None),
        };
        let why = |words: &Option<String>| -> Result<Option<String>, String> {
            let words = words.as_deref().map(checked).transpose()?;
            Ok(words.map(str::to_owned))
        };
        let fan = self.fan.map(|fan| match fan {
            FanSet::None => Fan::None,
            FanSet::Low => Fan::Low,
            FanSet::High => Fan::High,
        });
        let told = [
            fan.map(Circumstance::Fan),
            figure(self.room, legal::ROOM)?.map(Circumstance::Room),
            figure(self.sleep, legal::SLEEP)?.map(Circumstance::Sleep),
            figure(self.soreness, legal::SORENESS)?.map(Circumstance::Soreness),
            why(&self.paused)?.map(Circumstance::Paused),
            why(&self.ended_early)?.map(Circumstance::EndedEarly),
        ];
        Ok(told.into_iter().flatten().collect())
    }
}

/// Words that can be kept.
fn checked(words: &str) -> Result<&str, String> {
    let words = words.trim();
    if words.is_empty() || words.len() > LONGEST {
        return Err(say!(
            "A note is some words, {most} bytes of them at most. Nothing was kept.",
            most = LONGEST
        ));
    }
    Ok(words)
}

fn marks(events: &[EventLine]) -> Vec<u32> {
    events.iter().filter_map(EventLine::mark).collect()
}

/// The marks of any recording, one that was sent included.
fn marks_of(recording: &Path) -> Result<Vec<u32>, String> {
    let recording = Recording::open(recording)?;
    let failed = |error: std::io::Error| {
        say!(
            "{file} of {recording} cannot be read ({error}), so its marks are not known and nothing was kept. Check who may read \
             it.",
            file = EventLine::FILE,
            recording = recording.name(),
            error
        )
    };
    let bytes = recording.bytes(EventLine::FILE).map_err(failed)?;
    let events = decode::<EventLine>(bytes.unwrap_or_default().as_slice()).map_err(failed)?;
    Ok(marks(&events.records))
}

fn has_mark(number: u32, marks: &[u32]) -> Result<(), String> {
    if marks.contains(&number) {
        return Ok(());
    }
    Err(match marks.iter().max() {
        Some(most) => say!(
            "The ride has no mark {number}: its marks are 1 to {most}. Nothing was kept; `stillroad review` tells where they are.",
            number,
            most
        ),
        None => say!(
            "The ride has no mark {number}: no moment of it was marked. Nothing was kept; say it of a block with --block.",
            number
        ),
    })
}
