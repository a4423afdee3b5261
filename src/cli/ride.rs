//! `stillroad ride`: a whole ride on the command line, in life's pace, faster, or in virtual time.

mod find;
pub(super) mod line;
mod options;
mod preface;

use std::cell::RefCell;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use crate::cue::Kinds;
use crate::device::fault::{Faults, Faulty};
use crate::device::practice::{self, Practice, PracticeConfig};
use crate::device::radio::Radio;
use crate::device::{Backend, DeviceId};
use crate::engine::command::Role;
use crate::engine::drive::{Backends, Engine, recorder, wall_ms, zone_s};
use crate::engine::input::Input;
use crate::engine::world::World;
use crate::engine::{Choice, Command, Core, GroupClock, Snapshot};
use crate::memory::Memory;
use crate::plan::{self, Plan};
use crate::record::Kept;
use crate::ride::{Mode, RideMode};
use crate::sound::Sound;
use crate::store::{Places, RideWriter, memory};
use crate::text::{self, Language};
use crate::time::Span;
use crate::toml_table::Problem;
use line::{Line, summary};
use options::ModeWord;
pub use options::Options;
pub(super) use options::{Kit, Pace};

/// The practice devices advertise once a second.
const HEARD_WITHIN: Span = Span::from_millis(1_500);

/// A ride in virtual time begins within this, or something is missing.
const BEGIN_WITHIN: Span = Span::from_seconds(120);

/// The sound server is waited for so many twentieths of a second.
const SOUND_WITHIN: u32 = 60;

/// What a role was asked to be filled with.
#[derive(Clone, Debug, PartialEq, Eq)]
enum Wanted {
    Practice(DeviceId),
    Named(String),
}

impl Wanted {
    fn text(&self) -> &str {
        match self {
            Self::Practice(id) => id.as_str(),
            Self::Named(name) => name,
        }
    }
}

/// Rides, and gives what to print at the end and whether the session was ridden to its end.
///
/// # Errors
/// A sentence: what is missing, what it means, what to do.
pub fn run(options: &Options) -> Result<(String, bool), String> {
    let (written, mut warnings) = super::files::session(&options.session)?;
    let fitted = options.wish.fitted(&written)?;
    if !fitted.changes.is_empty() {
        super::print(&super::fit::told(&written, &fitted));
        warnings = plan::read(&fitted.plan.source).problems;
    }
    let plan = fitted.plan;
    let rider = super::files::rider(options.rider.as_deref())?;
    let out = match &options.out {
        Some(folder) => folder.clone(),
        None => Places::find().map_err(|error| error.to_string())?.rides,
    };
    let memory = remembered(options.kit.pace);
    super::print(&super::fit::offer(&memory, &written, options.wish));
    let devices = devices(&options.kit, &memory);
    // Without a brake nobody holds the watts.
    let brake = devices
        .wanted
        .iter()
        .any(|(role, _)| *role == Role::Trainer);
    let mode = match options.mode {
        ModeWord::TargetPower if brake => RideMode::TargetPower,
        ModeWord::TargetPower | ModeWord::EffortOnly => RideMode::EffortOnly,
    };
    let choice = Choice {
        plan: Arc::new(plan),
        rider: Arc::new(rider),
        mode,
    };
    let clock = clock(options, &choice.plan)?;
    super::print(&super::resume::left_open(&out));
    let begin = vec![
        Command::Choose(Box::new(choice.clone())),
        Command::Clock(clock),
    ];
    let mut kit = options.kit.clone();
    kit.session.clone_from(&options.session);
    ride(&choice, begin, &warnings, &devices, out, &kit)
}

/// Whose clock the ride follows.
fn clock(options: &Options, plan: &Plan) -> Result<GroupClock, String> {
    let clock = options.clock();
    if clock != GroupClock::Own && plan.test.is_some() {
        return Err(word!(
            "A threshold test is ridden by its own clock. Leave --at and --join away."
        )
        .to_owned());
    }
    if let GroupClock::Join(into) = clock
        && into >= plan.length()
    {
        return Err(say!(
            "The session lasts {length}, so it cannot be joined at {into}. Choose an earlier minute.",
            length = plan.length(),
            into
        ));
    }
    Ok(clock)
}

/// Rides what `begin` tells the core, with these devices.
///
/// # Errors
/// As [`run`].
pub(super) fn ride(
    choice: &Choice,
    begin: Vec<Command>,
    warnings: &[Problem],
    devices: &Devices,
    out: PathBuf,
    options: &Kit,
) -> Result<(String, bool), String> {
    let wanted = &devices.wanted;
    if wanted
        .iter()
        .any(|(_, wanted)| wanted.text().trim().is_empty())
    {
        return Err(word!(
            "A device's name is empty. Write none, practice, or a name or address as `stillroad devices` shows it."
        )
        .to_owned());
    }
    let named = |(_, wanted): &(Role, Wanted)| matches!(wanted, Wanted::Named(_));
    let real = wanted.iter().any(named) || !devices.hoped.is_empty();
    if real && options.pace != Pace::Times(1) {
        return Err(word!(
            "A real device rides at life's pace. Leave --pace away, or use --trainer practice."
        )
        .to_owned());
    }
    if options.sound && options.pace == Pace::Most {
        return Err(word!(
            "In virtual time nothing can be heard: sound needs life's pace. Use --pace real, or leave --sound away."
        )
        .to_owned());
    }
    super::print(&preface::preface(choice, warnings, real));
    match options.pace {
        Pace::Most => {
            // The core and the recorder work on this thread, and they are English, whoever reads what is printed.
            let last = text::within(Language::English, || {
                in_virtual_time(choice, begin, wanted, &out, options)
            })?;
            summary(&last)
        }
        Pace::Times(pace) => in_real_time(choice, begin, devices, out, options, pace, real),
    }
}

/// The devices of a ride.
pub(super) struct Devices {
    /// What must be there before it begins.
    wanted: Vec<(Role, Wanted)>,
    /// The roles whose remembered devices are taken if they are heard.
    hoped: Vec<Role>,
}

/// What earlier rides left; nothing at another pace than life's, where no real device can be used.
pub(super) fn remembered(pace: Pace) -> Memory {
    if pace != Pace::Times(1) {
        return Memory::default();
    }
    let Ok(places) = Places::find() else {
        return Memory::default();
    };
    let (memory, trouble) = memory::load(&places.memory);
    if let Some(trouble) = trouble {
        super::print(&text::translated(&trouble));
    }
    memory
}

pub(super) fn devices(options: &Kit, memory: &Memory) -> Devices {
    let mut devices = Devices {
        wanted: Vec::new(),
        hoped: Vec::new(),
    };
    for (role, text) in [
        (Role::Trainer, &options.trainer),
        (Role::Heart, &options.heart),
        (Role::SecondHeart, &options.second_heart),
        (Role::Meter, &options.meter),
        (Role::Cadence, &options.cadence),
    ] {
        // Practice devices are taken where they are asked for, and the practice trainer where nothing else is known.
        let machine = |address: &&String| !address.starts_with(practice::PREFIX);
        let last = memory.devices.get(role.key()).filter(machine);
        let wanted = match (text.as_deref(), last) {
            (Some("none"), _) => continue,
            (Some("practice"), _) => Wanted::Practice(practice_device(role)),
            (Some(address), _) if role == Role::Trainer && manner(address).is_some() => {
                Wanted::Practice(practice_device(role))
            }
            (Some(address), _) if address.starts_with(practice::PREFIX) => {
                Wanted::Practice(DeviceId::new(address))
            }
            (Some(name), _) => Wanted::Named(name.to_owned()),
            (None, Some(address)) if role == Role::Trainer => Wanted::Named(address.clone()),
            (None, None) if role == Role::Trainer => Wanted::Practice(practice_device(role)),
            (None, Some(_)) => {
                devices.hoped.push(role);
                continue;
            }
            (None, None) => continue,
        };
        devices.wanted.push((role, wanted));
    }
    // A practice ride stays one: a machine's heart rate in it would be no practice rider's.
    if let Some((_, Wanted::Practice(_))) = devices.wanted.first() {
        devices.hoped.clear();
    }
    devices
}

/// The practice device for a role: the trainer gives cadence too.
fn practice_device(role: Role) -> DeviceId {
    DeviceId::new(match role {
        Role::Trainer | Role::Cadence => practice::TRAINER,
        Role::Meter => practice::METER,
        Role::Heart | Role::SecondHeart => practice::HEART,
    })
}

/// The manner of practice trainer that an address asks for: practice:levels, for instance.
fn manner(address: &str) -> Option<&'static str> {
    let word = address.strip_prefix(practice::PREFIX)?;
    let known = practice::MANNERS.iter().find(|(known, _)| *known == word)?;
    Some(known.0)
}

fn practice(choice: &Choice, options: &Kit) -> Box<dyn Backend> {
    let rider = &choice.rider;
    let plain = PracticeConfig::for_rider(rider.threshold, rider.w_prime).seeded(options.seed);
    let manner = options.trainer.as_deref().and_then(manner);
    let config = match manner.and_then(|word| plain.clone().behaving(word)) {
        Some(config) => config,
        None => plain,
    };
    let practice = Box::new(Practice::new(config.settling_in()));
    match options.faults {
        Some(seed) => Box::new(Faulty::new(practice, Faults::of(seed))),
        None => practice,
    }
}

fn in_virtual_time(
    choice: &Choice,
    first: Vec<Command>,
    wanted: &[(Role, Wanted)],
    out: &Path,
    options: &Kit,
) -> Result<Arc<Snapshot>, String> {
    let writer = RefCell::new(RideWriter::new(out));
    let mut world = World::new(wall_ms(), vec![practice(choice, options)], |_, kept| {
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
    world.input(Input::Zone(zone_s()));
    let waits = first
        .iter()
        .any(|command| matches!(command, Command::Clock(GroupClock::At(_))));
    for command in first {
        world.command(command);
    }
    world.command(Command::Scan(true));
    world.run_until(world.now() + HEARD_WITHIN);
    for (role, device) in wanted {
        if let Wanted::Practice(id) = device {
            world.command(Command::Use(*role, Some(id.clone())));
        }
    }
    world.command(Command::Scan(false));
    // A strap or a meter alone is waited for as a trainer is: the clock begins when all stand.
    let connected = |core: &Core| wanted.iter().all(|(role, _)| core.is_up(*role));
    world.run_while(world.now() + BEGIN_WITHIN, |core| !connected(core));
    begin(wanted, |command| world.command(command));
    // In virtual time a day is no wait.
    let begin_within = if waits {
        BEGIN_WITHIN + Span::from_seconds(86_400)
    } else {
        BEGIN_WITHIN
    };
    let started = world.run_while(world.now() + begin_within, |core| !core.mode().under_way());
    if !started {
        return Err(word!("The practice ride did not begin: nobody turned the pedals.").to_owned());
    }
    let longest = world.now() + choice.plan.length() * 4;
    world.run_while(longest, |core| core.mode().under_way());
    world.command(Command::Close);
    while !world.is_done() && world.step(world.now() + Span::from_seconds(10)) {}
    writer.borrow_mut().finish();
    tell(&mut world);
    Ok(world.snapshot())
}

/// The ride waits for the pedals; without a trainer there is nothing to wait for.
fn begin(wanted: &[(Role, Wanted)], mut command: impl FnMut(Command)) {
    if wanted.iter().any(|(role, _)| *role == Role::Trainer) {
        command(Command::StartWithPedals);
    } else {
        command(Command::Start);
    }
}

/// Sound, once it is known whether there is any; what is missing is said.
fn heard(engine: &Engine, session: &Path) -> Sound {
    let sound = Sound::start(engine, Kinds::default(), super::cues::beside(session));
    for _ in 0..SOUND_WITHIN {
        if !sound.is_asking() {
            break;
        }
        std::thread::sleep(Duration::from_millis(50));
    }
    if let Some(trouble) = sound.trouble() {
        super::print(&text::translated(&trouble));
    }
    sound
}

fn in_real_time(
    choice: &Choice,
    first: Vec<Command>,
    devices: &Devices,
    out: PathBuf,
    options: &Kit,
    pace: u32,
    real: bool,
) -> Result<(String, bool), String> {
    let (rider, own) = (choice.clone(), options.clone());
    // Where there is no place for it nothing is remembered; the ride goes on without. A practice ride that runs faster
    // than life leaves nothing behind.
    let memory = (pace == 1)
        .then(|| Places::find().ok())
        .flatten()
        .map(|places| places.memory);
    let backends: Backends = Box::new(move |clock, waker| {
        let mut backends = vec![practice(&rider, &own)];
        if real {
            backends.push(Box::new(Radio::start(Arc::new(move || clock.now()), waker)));
        }
        backends
    });
    let mut engine = Engine::start(out, memory, pace, backends, Arc::new(|| {}))?;
    let close = engine.remote();
    // Without the handler a signal would end the program with the brake on; with it the core lets go first.
    ctrlc::set_handler(move || close(Command::Close)).map_err(|error| {
        say!(
            "The system refuses a handler for signals: {error}. Nothing was started.",
            error
        )
    })?;
    for command in first {
        engine.command(command);
    }
    let asked: Vec<_> = devices
        .wanted
        .iter()
        .map(|(role, device)| (*role, device.text()))
        .collect();
    for role in Role::ALL {
        if !devices.hoped.contains(&role) {
            // What is said on the command line stands: nothing remembered is taken instead.
            engine.command(Command::Use(role, None));
        }
    }
    let mut line = Line::new();
    find::find(&mut engine, &asked, &devices.hoped, &mut line)?;
    let _heard = options.sound.then(|| heard(&engine, &options.session));
    begin(&devices.wanted, |command| {
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
            let last = engine.snapshot();
            line.show(&last);
            break last;
        }
    };
    line.end();
    summary(&last)
}
