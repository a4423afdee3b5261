//! `stillroad ride`: a whole ride on the command line, in life's pace, faster, or in virtual time.

mod find;

use std::cell::RefCell;
use std::io::{IsTerminal, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use clap::{Args, ValueEnum};

use crate::device::practice::{self, Practice, PracticeConfig};
use crate::device::radio::Radio;
use crate::device::{Backend, DeviceId};
use crate::engine::command::Role;
use crate::engine::drive::{Backends, Engine, recorder, wall_ms};
use crate::engine::input::Input;
use crate::engine::snapshot::RecordState;
use crate::engine::world::World;
use crate::engine::{Choice, Command, Snapshot};
use crate::record::Kept;
use crate::ride::{Mode, RideMode};
use crate::store::{Places, RideWriter};
use crate::time::{Instant, Span};

/// A ride in virtual time begins within this, or something is missing.
const BEGIN_WITHIN: Span = Span::from_seconds(120);

/// The options of a ride.
#[derive(Args, Clone, Debug)]
pub struct Options {
    /// The session file, or the name of a built-in session
    #[arg(value_name = "SESSION")]
    session: PathBuf,
    /// The trainer: practice, none, or a device's name or address
    #[arg(long, default_value = "practice", value_name = "DEVICE")]
    trainer: String,
    /// The heart strap: practice, none, or a device's name or address
    #[arg(long, default_value = "none", value_name = "DEVICE")]
    heart: String,
    /// A separate power meter
    #[arg(long, default_value = "none", value_name = "DEVICE")]
    meter: String,
    /// A separate cadence sensor
    #[arg(long, default_value = "none", value_name = "DEVICE")]
    cadence: String,
    /// Who sets the load
    #[arg(long, default_value = "target-power")]
    mode: ModeWord,
    /// How fast: real, a whole number of times life's pace, or max (virtual time). Other than real only with practice devices
    #[arg(long, default_value = "real", value_name = "PACE")]
    pace: Pace,
    /// The rider
    #[arg(long, value_name = "FILE")]
    rider: Option<PathBuf>,
    /// The folder in which the ride's own folder is made
    #[arg(long, value_name = "FOLDER")]
    out: Option<PathBuf>,
    /// The seed of the practice rider
    #[arg(long, default_value_t = 1, value_name = "N")]
    seed: u64,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum ModeWord {
    /// The brake holds the session's watts
    TargetPower,
    /// One fixed level stands and the rider shifts gears
    EffortOnly,
}

/// How fast a ride runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Pace {
    Times(u32),
    Most,
}

impl std::str::FromStr for Pace {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        match text {
            "real" => Ok(Self::Times(1)),
            "max" => Ok(Self::Most),
            number => match number.parse() {
                Ok(times @ 1..=100) => Ok(Self::Times(times)),
                _ => Err("a pace is real, max, or a whole number from 1 to 100".to_owned()),
            },
        }
    }
}

/// What a role was asked to be filled with.
#[derive(Clone, Debug, PartialEq, Eq)]
enum Wanted {
    Practice(DeviceId),
    Named(String),
}

/// Rides, and gives what to print at the end and whether the session was ridden to its end.
///
/// # Errors
/// A sentence: what is missing, what it means, what to do.
pub fn run(options: &Options) -> Result<(String, bool), String> {
    let plan = super::files::session(&options.session)?;
    let rider = super::files::rider(options.rider.as_deref())?;
    let out = match &options.out {
        Some(folder) => folder.clone(),
        None => Places::find().map_err(|error| error.to_string())?.rides,
    };
    let wanted = wanted(options);
    let real = wanted
        .iter()
        .any(|(_, wanted)| matches!(wanted, Wanted::Named(_)));
    if real && options.pace != Pace::Times(1) {
        return Err(
            "A real device rides at life's pace. Leave --pace away, or use --trainer practice."
                .to_owned(),
        );
    }
    let mode = match options.mode {
        ModeWord::TargetPower => RideMode::TargetPower,
        ModeWord::EffortOnly => RideMode::EffortOnly,
    };
    let choice = Choice {
        plan: Arc::new(plan),
        rider: Arc::new(rider),
        mode,
    };
    match options.pace {
        Pace::Most => in_virtual_time(&choice, &wanted, &out, options.seed),
        Pace::Times(pace) => in_real_time(&choice, &wanted, out, options.seed, pace, real),
    }
}

fn wanted(options: &Options) -> Vec<(Role, Wanted)> {
    let asked = [
        (Role::Trainer, &options.trainer),
        (Role::Heart, &options.heart),
        (Role::Meter, &options.meter),
        (Role::Cadence, &options.cadence),
    ];
    asked
        .into_iter()
        .filter_map(|(role, text)| match text.as_str() {
            "none" => None,
            "practice" => Some((role, Wanted::Practice(practice_device(role)))),
            name => Some((role, Wanted::Named(name.to_owned()))),
        })
        .collect()
}

/// The practice device for a role: the trainer gives cadence too.
fn practice_device(role: Role) -> DeviceId {
    DeviceId::new(match role {
        Role::Trainer | Role::Cadence => practice::TRAINER,
        Role::Meter => practice::METER,
        Role::Heart => practice::HEART,
    })
}

fn practice(choice: &Choice, seed: u64) -> Box<dyn Backend> {
    let rider = &choice.rider;
    Box::new(Practice::new(
        PracticeConfig::for_rider(rider.threshold, rider.w_prime).seeded(seed),
    ))
}

fn in_virtual_time(
    choice: &Choice,
    wanted: &[(Role, Wanted)],
    out: &Path,
    seed: u64,
) -> Result<(String, bool), String> {
    let writer = RefCell::new(RideWriter::new(out));
    let mut world = World::new(wall_ms(), vec![practice(choice, seed)], |_, kept| {
        // Virtual time waits for the disk, which is given everything some minutes at a time.
        let due = matches!(&kept, Kept::Row(row) if row.ridden_s % 600 == 0);
        writer.borrow_mut().take(kept);
        if due {
            writer.borrow_mut().tick();
        }
    });
    let tell = |world: &mut World<'_>| {
        let told = writer.borrow_mut().reports();
        for report in told.into_iter().filter_map(recorder) {
            world.input(Input::Recorder(report));
        }
    };
    world.command(Command::Choose(Box::new(choice.clone())));
    for (role, device) in wanted {
        if let Wanted::Practice(id) = device {
            world.command(Command::Use(*role, Some(id.clone())));
        }
    }
    begin(wanted, |command| world.command(command));
    let started = world.run_while(world.now() + BEGIN_WITHIN, |core| !core.mode().under_way());
    if !started {
        return Err("The practice ride did not begin: nobody turned the pedals.".to_owned());
    }
    let longest = world.now() + choice.plan.length() * 4;
    world.run_while(longest, |core| core.mode().under_way());
    world.command(Command::Close);
    while !world.is_done() && world.step(world.now() + Span::from_seconds(10)) {}
    writer.borrow_mut().finish();
    tell(&mut world);
    summary(&world.snapshot())
}

/// The ride waits for the pedals; without a trainer there is nothing to wait for.
fn begin(wanted: &[(Role, Wanted)], mut command: impl FnMut(Command)) {
    if wanted.iter().any(|(role, _)| *role == Role::Trainer) {
        command(Command::StartWithPedals);
    } else {
        command(Command::Start);
    }
}

fn in_real_time(
    choice: &Choice,
    wanted: &[(Role, Wanted)],
    out: PathBuf,
    seed: u64,
    pace: u32,
    real: bool,
) -> Result<(String, bool), String> {
    let rider = choice.clone();
    let backends: Backends = Box::new(move |clock, waker| {
        let mut backends = vec![practice(&rider, seed)];
        if real {
            backends.push(Box::new(Radio::start(Arc::new(move || clock.now()), waker)));
        }
        backends
    });
    let mut engine = Engine::start(out, pace, backends, Arc::new(|| {}))?;
    let close = engine.remote();
    // Without the handler a signal would end the program with the brake on; with it the core lets go first.
    ctrlc::set_handler(move || close(Command::Close)).map_err(|error| {
        format!("The system refuses a handler for signals: {error}. Nothing was started.")
    })?;
    engine.command(Command::Choose(Box::new(choice.clone())));
    let named = take_practice(&engine, wanted);
    let mut line = Line::new();
    find::find(&mut engine, &named, &mut line)?;
    begin(wanted, |command| {
        engine.command(command);
    });
    let mut closing = false;
    let last = loop {
        std::thread::sleep(Duration::from_millis(200));
        let snapshot = engine.snapshot();
        line.show(&snapshot);
        if matches!(snapshot.mode, Mode::Finished(_)) && !closing {
            closing = true;
            engine.command(Command::Close);
        }
        if engine.is_over() {
            break engine.snapshot();
        }
    };
    line.end();
    summary(&last)
}

/// Takes the practice devices, and gives those asked for by name or address.
fn take_practice<'w>(engine: &Engine, wanted: &'w [(Role, Wanted)]) -> Vec<(Role, &'w str)> {
    let mut named = Vec::new();
    for (role, device) in wanted {
        match device {
            Wanted::Practice(id) => drop(engine.command(Command::Use(*role, Some(id.clone())))),
            Wanted::Named(name) => named.push((*role, name.as_str())),
        }
    }
    named
}

/// What is said when all is over, and whether the session was ridden to its end.
fn summary(last: &Snapshot) -> Result<(String, bool), String> {
    let Mode::Finished(how) = last.mode else {
        return Err("The ride did not begin, so nothing was recorded.".to_owned());
    };
    let ending = match how {
        crate::ride::Finish::Completed => "Ridden to the end",
        crate::ride::Finish::ByRider => "Ended by the rider",
        crate::ride::Finish::Closed => "Stopped",
    };
    let name = last.plan.as_ref().map_or("", |plan| plan.name.as_str());
    let mut text = format!(
        "{ending}: {name}, {} ridden, {:.0} kJ of work.\n",
        last.ridden,
        last.work / 1000.0
    );
    let kept = match &last.record {
        RecordState::Writing(folder, rows) | RecordState::Closed(folder, rows) => {
            text += &format!("{rows} rows kept in {folder}");
            true
        }
        RecordState::Trouble(why) => {
            // The rest of the sentence is for a ride that goes on.
            let what = why.split(". ").next().unwrap_or_default();
            text += what;
            text += ". What was ridden since then is lost. Make room or allow writing there, or choose another folder \
                     with --out, and ride again.";
            false
        }
        RecordState::NotYet => {
            text += "Nothing was kept.";
            false
        }
    };
    Ok((text, kept && how == crate::ride::Finish::Completed))
}

/// The live line: drawn over itself on a terminal, else a line every ten seconds.
struct Line {
    terminal: bool,
    next: Instant,
    shown: String,
    notice: String,
}

impl Line {
    fn new() -> Self {
        Self {
            terminal: std::io::stdout().is_terminal(),
            next: Instant::ZERO,
            shown: String::new(),
            notice: String::new(),
        }
    }

    fn show(&mut self, snapshot: &Snapshot) {
        let mut out = std::io::stdout().lock();
        if let Some(notice) = &snapshot.notice
            && **notice != *self.notice
        {
            self.notice = notice.to_string();
            let clear = if self.terminal { "\r\x1b[K" } else { "" };
            drop(writeln!(out, "{clear}{notice}"));
        }
        let text = line(snapshot);
        if self.terminal {
            if text != self.shown {
                drop(write!(out, "\r\x1b[K{text}"));
                drop(out.flush());
            }
        } else if snapshot.at >= self.next {
            self.next = snapshot.at + Span::from_seconds(10);
            drop(writeln!(out, "{text}"));
        }
        self.shown = text;
    }

    /// The last notice that was shown; empty before the first.
    fn notice(&self) -> &str {
        &self.notice
    }

    fn end(&self) {
        if self.terminal {
            println!();
        }
    }
}

/// One line that says where the ride stands.
fn line(snapshot: &Snapshot) -> String {
    let fresh = |value: Option<String>| value.unwrap_or_else(|| "–".to_owned());
    let figures = [
        fresh(snapshot.power.fresh().map(|power| power.to_string())),
        fresh(snapshot.cadence.fresh().map(|cadence| cadence.to_string())),
        fresh(snapshot.heart_rate.fresh().map(|rate| rate.to_string())),
    ]
    .join("  ");
    match snapshot.mode {
        Mode::Idle => "Nothing is chosen yet.".to_owned(),
        Mode::Connecting => format!("Connecting. {}", snapshot.missing.join(" ")),
        Mode::Ready => format!("Ready: turn the pedals to start.  {figures}"),
        Mode::Finished(_) => "Finished.".to_owned(),
        Mode::Riding | Mode::Paused(_) | Mode::Degraded { .. } => {
            let state = match snapshot.mode {
                Mode::Paused(_) => "paused  ",
                Mode::Degraded { .. } => "no brake  ",
                _ => "",
            };
            let block = snapshot
                .plan
                .as_ref()
                .zip(snapshot.laps.get(snapshot.lap))
                .map_or("", |(plan, lap)| plan.blocks[lap.block].name.as_str());
            let left = snapshot
                .laps
                .get(snapshot.lap)
                .map_or(Span::ZERO, |lap| lap.end().less(snapshot.session));
            let lane = snapshot
                .lane
                .map_or_else(String::new, |lane| format!("  lane {lane}"));
            let brake = snapshot
                .brake
                .map_or_else(String::new, |brake| format!("  brake {brake}"));
            format!(
                "{state}{} of {}  {block}, {left} left  {figures}{lane}{brake}",
                snapshot.session, snapshot.session_length,
            )
        }
    }
}
