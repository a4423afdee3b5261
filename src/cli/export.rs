//! `stillroad export`: one file of a recording to send, without names, addresses, paths and the day.
//!
//! Nothing of the recording is edited. The inputs of its log are disguised, ridden again through the core, and recorded by
//! the same writer: what is sent is the recording of a ride that other people's devices might have given.

use std::collections::BTreeMap;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};

use clap::Args;
use jiff::tz::TimeZone;

use super::logs::{Found, feed};
use super::replay::replay;
use crate::engine::disguise::Disguise;
use crate::engine::input::{Input, Output};
use crate::engine::replay::LogEnd;
use crate::engine::{Command, Core};
use crate::record::log::{Head, LogItem, word};
use crate::record::{Kept, KeptLines};
use crate::store::recording::{Files, MemoryDisk, Recording, pack};
use crate::store::{Bounds, RecordReport, RideWriter};
use crate::text::{self, Language};
use crate::time::Instant;

/// The options of an export.
#[derive(Args, Clone, Debug)]
pub struct Options {
    /// A ride's folder, or a file that `stillroad export` made
    #[arg(value_name = "RECORDING")]
    recording: PathBuf,
    /// The file to be made, as ride.zip; one that exists is not overwritten
    #[arg(long, value_name = "FILE")]
    to: PathBuf,
    /// Leave the day as it was
    #[arg(long)]
    keep_day: bool,
}

/// Makes the file and says what is in it.
///
/// # Errors
/// A sentence where the recording cannot be read or replayed, or the file not be written.
pub fn run(options: &Options) -> Result<String, String> {
    let recording = Recording::open(&options.recording)?;
    let before = replay(&recording, |_| {})?;
    if let LogEnd::Unusable(why) = &before.end {
        return Err(say!(
            "{recording} cannot be exported: its log cannot be replayed. {why}",
            recording = recording.name(),
            why = text::translated(why)
        ));
    }
    export(&recording, &options.to, options.keep_day)?;
    let made = Recording::open(&options.to)?;
    let after = replay(&made, |_| {})?;
    let (file, rows, events) = (options.to.display(), after.lines[0], after.lines[1]);
    let holds = if options.keep_day {
        say!(
            "{file} holds {rows} rows, {events} events and {inputs} inputs, without names, addresses, paths.",
            file,
            rows,
            events,
            inputs = after.inputs
        )
    } else {
        say!(
            "{file} holds {rows} rows, {events} events and {inputs} inputs, without names, addresses, paths and the day.",
            file,
            rows,
            events,
            inputs = after.inputs
        )
    };
    let mut lines = vec![holds];
    lines.push(match after.differences.count {
        0 => word!("It replays without a difference.").to_owned(),
        count => say!(
            "It replays with {count} differences: please tell of this too.",
            count
        ),
    });
    if before.differences.count > 0 {
        lines.push(say!(
            "The recording itself replays with {count} differences, and the file holds what the replay gives: tell what \
             `stillroad replay` says of it as well.",
            count = before.differences.count
        ));
    }
    if let LogEnd::Gap(line) | LogEnd::Full(line) = before.end {
        lines.push(say!(
            "The log ends early, at line {line}; so does the file.",
            line
        ));
    }
    if let LogEnd::Failed(line) = before.end {
        lines.push(say!(
            "The program fails on the input of line {line}; the file ends there.",
            line
        ));
    }
    lines.push(
        word!(
            "The session's text is in it as it was written, but for the names. Look it over before you send it."
        )
        .to_owned(),
    );
    Ok(lines.join("\n"))
}

/// Makes the file.
///
/// # Errors
/// A sentence where the recording cannot be read or replayed, or the file not be written.
pub fn export(recording: &Recording, to: &Path, keep_day: bool) -> Result<Disguise, String> {
    export_with(recording, to, keep_day, &mut Core::handle)
}

/// How an input is handed to the core.
pub type Handle<'a> = &'a mut dyn FnMut(&mut Core, Instant, Input);

/// The same with a word in how inputs are handed to the core, so that its failure can be brought in from outside.
///
/// # Errors
/// As [`export`].
pub fn export_with(
    recording: &Recording,
    to: &Path,
    keep_day: bool,
    handle: Handle<'_>,
) -> Result<Disguise, String> {
    let made = exported(recording, keep_day, handle)?;
    pack(to, &made.root, &made.name, &made.files)?;
    Ok(made.disguise)
}

/// A recording that was ridden again in disguise.
pub(super) struct Exported {
    /// Below this are its files.
    pub(super) root: PathBuf,
    /// The name of the ride's folder; rides that it goes on from are beside it.
    pub(super) name: String,
    pub(super) files: Files,
    disguise: Disguise,
}

/// Rides a recording again in disguise. What is recorded of it is English, as every recording.
///
/// # Errors
/// As [`export`].
pub(super) fn exported(
    recording: &Recording,
    keep_day: bool,
    handle: Handle<'_>,
) -> Result<Exported, String> {
    text::within(Language::English, || {
        ridden_again(recording, keep_day, handle)
    })
}

fn ridden_again(
    recording: &Recording,
    keep_day: bool,
    handle: Handle<'_>,
) -> Result<Exported, String> {
    let mut disguise = Disguise::default();
    // What each part of the ride left, as the next one says.
    let mut bounds = BTreeMap::new();
    feed(recording, &mut |found| {
        if let LogItem::Line { line, .. } = &found.item {
            if line.input == word::HEAD
                && let Ok(head) = serde_json::from_str::<Head>(&line.content)
            {
                disguise.gather_day(head.epoch_ms, keep_day);
            } else if let Ok(input) = Input::from_raw(&line.input, &line.content) {
                disguise.gather(&input);
                let own = found.before.is_none() && found.part > 1;
                if let (Input::Command(Command::TakeUp(take_up)), true) = (&input, own) {
                    bounds.insert(found.part - 1, take_up.kept);
                }
            }
        }
        true
    })?;
    disguise.settle()?;
    let rides = Path::new("rides");
    let disk = MemoryDisk::default();
    let mut writer = RideWriter::with_disk(
        rides,
        Box::new(disk.clone()),
        TimeZone::UTC,
        Bounds::default(),
    );
    let mut ridden = Ridden::default();
    let mut folder: Option<PathBuf> = None;
    let mut part = 1;
    feed(recording, &mut |found| {
        if found.part > part {
            // The program was killed: what its core had not put out is in no file, and the next run has its own.
            part = found.part;
            ridden.core = None;
            writer.leave_open();
            take_folder(&mut writer, &mut folder);
        }
        let own = found.before.is_none();
        ridden.bound = bounds.get(&part).copied();
        ridden.folder.clone_from(&folder);
        let more = ridden.on(&found, &disguise, &mut writer, handle);
        if writer.due() {
            writer.tick();
        }
        // A ride before in the same run has a folder of its own beside it.
        let began = if own { &mut folder } else { &mut None };
        take_folder(&mut writer, began);
        more
    })?;
    writer.finish();
    take_folder(&mut writer, &mut folder);
    let folder: PathBuf = folder.ok_or(entry!(
        "No ride begins in this log, so there is nothing to export. Look at it with `stillroad replay`."
    ))?;
    let name = folder.file_name().unwrap_or_default().to_string_lossy();
    Ok(Exported {
        root: rides.to_owned(),
        name: name.into_owned(),
        files: disk.files(),
        disguise,
    })
}

fn take_folder(writer: &mut RideWriter, folder: &mut Option<PathBuf>) {
    for report in writer.reports() {
        if let RecordReport::Began(made) = report {
            *folder = Some(made);
        }
    }
}

/// The ride that is ridden again.
#[derive(Default)]
struct Ridden {
    core: Option<Core>,
    /// What was kept of the parts so far, where another part follows: its core had put out a little more when it was
    /// killed, or that would be in the files.
    bound: Option<KeptLines>,
    /// Events and notes so far.
    events: u64,
    notes: u64,
    /// The folder that was made.
    folder: Option<PathBuf>,
}

impl Ridden {
    /// One line of the log, disguised, through the core and to the writer. False where the log is of no use any more.
    fn on(
        &mut self,
        found: &Found<'_>,
        disguise: &Disguise,
        writer: &mut RideWriter,
        handle: Handle<'_>,
    ) -> bool {
        let LogItem::Line { line, .. } = &found.item else {
            return true;
        };
        match &*line.input {
            word::HEAD => {
                if let Ok(head) = serde_json::from_str::<Head>(&line.content) {
                    let mut begun = Core::new(disguise.epoch_ms(head.epoch_ms));
                    if !head.leads {
                        begun.without_lead();
                    }
                    self.core = Some(begun);
                }
            }
            word::GAP | word::STOPPED => return false,
            _ => {
                if let Ok(input) = Input::from_raw(&line.input, &line.content)
                    && let Some(mut core) = self.core.take()
                {
                    let input = self.named(disguise.input(input));
                    // The input on which the program fails is the last of the file, so that it fails there too.
                    let now = Instant(line.at_us);
                    let handled = catch_unwind(AssertUnwindSafe(|| handle(&mut core, now, input)));
                    while let Some(output) = core.poll_output() {
                        if let Output::Kept(kept) = output
                            && (found.before.is_some() || self.was_kept(&kept))
                        {
                            writer.take(kept);
                        }
                    }
                    self.core = Some(core);
                    if handled.is_err() {
                        return false;
                    }
                }
            }
        }
        true
    }

    /// A ride that goes on does so in the folder that was made here.
    fn named(&self, mut input: Input) -> Input {
        if let Input::Command(Command::TakeUp(take_up)) = &mut input {
            // The name of the folder that it went on in tells the session and the day.
            take_up.ride = match self.folder.as_deref().and_then(Path::file_name) {
                Some(name) => name.to_string_lossy().into_owned(),
                None => "ride".to_owned(),
            };
        }
        input
    }

    fn was_kept(&mut self, kept: &Kept) -> bool {
        let most = self.bound.unwrap_or(KeptLines {
            rows: u64::MAX,
            events: u64::MAX,
            notes: u64::MAX,
        });
        match kept {
            Kept::Row(row) => row.ridden_s <= most.rows,
            Kept::Event(_) => {
                let within = self.events < most.events;
                self.events += u64::from(within);
                within
            }
            Kept::Note(_) => {
                let within = self.notes < most.notes;
                self.notes += u64::from(within);
                within
            }
            _ => true,
        }
    }
}
