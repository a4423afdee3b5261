//! A campaign: turns of fortune, played against the core, with everything written down.

use std::collections::BTreeMap;
use std::sync::Arc;

use stillroad::device::{Advertisement, DeviceId, Event, Failure, Request};
use stillroad::engine::input::{Input, Output, Recorder};
use stillroad::engine::{Choice, Command, Core, Role};
use stillroad::gatt::uuid16::*;
use stillroad::gatt::{
    CyclingPowerMeasurement, FitnessMachineFeature, HeartRateMeasurement, IndoorBikeData,
    PowerRange, Uuid16,
};
use stillroad::plan::{Brake, Kind};
use stillroad::ride::RideMode;
use stillroad::rider::Rider;
use stillroad::time::{Instant, Span};
use stillroad::units::{Bpm, MetresPerSecond, Rpm, Watts};

pub use super::trace::{Step, Trace};
use crate::world::{EPOCH_MS, rider, session, slow};

/// The trainer's least and most, W.
pub const LEAST: i16 = 10;
pub const MOST: i16 = 800;

const BLOCKS: &str = "[[block]]\nkind = \"hold\"\ntime = \"0:40\"\nwatts = 150\nstretch = true\n\
    [[block]]\nkind = \"sprint\"\ntime = \"0:12\"\nwatts = 900\nbrake = \"held\"\n\
    [[block]]\nkind = \"recovery\"\ntime = \"0:20\"\nwatts = 80\ncut = true\n\
    [[block]]\nkind = \"hold\"\ntime = \"0:30\"\nwatts = 900\nbuild_up = \"0:00\"\ncut = true\n\
    [[block]]\nkind = \"sprint\"\ntime = \"0:10\"\neffort = 10\n\
    [[block]]\nkind = \"free\"\ntime = \"0:20\"\n\
    [[block]]\nkind = \"hold\"\ntime = \"0:20\"\nlevel = 0.9\n\
    [[block]]\nkind = \"cool-down\"\ntime = \"0:30\"\neffort = [5, 1]\n";

/// A session for riders who tire: a hold that is long enough for the heart to count.
const LONG: &str = "[[block]]\nkind = \"hold\"\ntime = \"5:00\"\nwatts = 200\ncadence = [80, 95]\nstretch = true\n\
    [[block]]\nkind = \"sprint\"\ntime = \"0:12\"\nwatts = 900\nbrake = \"held\"\n\
    [[block]]\nkind = \"recovery\"\ntime = \"0:20\"\nwatts = 80\ncut = true\n\
    [[block]]\nkind = \"hold\"\ntime = \"4:00\"\nwatts = 240\ncadence = [80, 95]\n";

pub fn trainer() -> DeviceId {
    DeviceId::new("campaign:trainer")
}

pub fn meter() -> DeviceId {
    DeviceId::new("campaign:meter")
}

pub fn strap() -> DeviceId {
    DeviceId::new("campaign:strap")
}

/// The rider of the campaign: one who holds by the meter and has a ceiling for the heart.
fn campaigner() -> Rider {
    Rider {
        meter_led: true,
        heart_rate_ceiling: Some(Bpm(150.0)),
        ..rider()
    }
}

/// How the trainer answers what is written to it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Mood {
    /// With this result, for all but request control.
    Result(u8),
    /// With this result, for request control too.
    All(u8),
    /// With an ATT error.
    Att(u8),
    /// Acknowledged, and then silence.
    Silent,
}

/// A turn of fortune.
#[derive(Clone, Debug)]
pub enum Turn {
    /// Everything is chosen and connected.
    Up,
    /// The same, with the session for riders who tire.
    UpLong,
    /// The trainer takes levels alone, so that watts are held slowly. Before it is connected.
    LevelsAlone,
    /// Ten seconds of reports, a quarter of a second apart, at this cadence (rpm), whose power follows the level.
    Along(u16),
    /// Half a minute of reports, a second apart, at this cadence (rpm) and heart rate (bpm).
    Strained(u16, u8),
    Start,
    /// End, pressed twice.
    End,
    Hand(Command),
    /// Time passes, then the trainer reports.
    Pedal {
        after_ms: u64,
        cadence: u16,
        watts: i16,
    },
    /// The legs go down from 90 rpm, a report each 250 ms, by so much a report.
    Stall(u16),
    /// The separate meter reports.
    Meter(i16),
    /// The heart strap reports.
    Heart(u8),
    /// The link to the meter, or to the strap, is lost.
    SensorLost(Role),
    /// Time passes, and every deadline is met.
    Wait(u64),
    /// Time passes, and nobody is woken.
    HeldUp(u64),
    Mood(Mood),
    /// Octets on the status, the control point or the bike data.
    Noise(Uuid16, Vec<u8>),
    LinkLost,
    ConnectFails,
    Crowd(u16),
    Disk(Recorder),
    Slept(u64),
    Event(Event),
}

struct Campaign {
    core: Core,
    now: Instant,
    mood: Mood,
    connect_fails: bool,
    linked: bool,
    levels_alone: bool,
    /// The level that the trainer took last.
    level: u8,
    queue: BTreeMap<(Instant, u64), Event>,
    number: u64,
    trace: Trace,
}

impl Campaign {
    fn feed(&mut self, input: Input) {
        self.core.handle(self.now, input.clone());
        let (mut requests, mut kept) = (Vec::new(), Vec::new());
        while let Some(output) = self.core.poll_output() {
            match output {
                Output::Request(request) => requests.push(request),
                Output::Kept(one) => kept.push(one),
                Output::Remember(_) | Output::Done => {}
            }
        }
        let snapshot = self.core.snapshot(self.now);
        let held_sprint = snapshot.mode.under_way()
            && snapshot.plan.is_some_and(|plan| {
                let block = &plan.blocks[snapshot.laps[snapshot.lap].block];
                block.kind == Kind::Sprint && block.brake == Brake::Held
            });
        let lead = snapshot.ledger.map_or(Span::ZERO, |ledger| ledger.lead);
        for request in &requests {
            self.answer(request.clone());
        }
        self.trace.devices = snapshot.devices.len();
        self.trace.ink = snapshot.ink.len();
        self.trace.steps.push(Step {
            now: self.now,
            input,
            requests,
            kept,
            held_sprint,
            lead,
        });
    }

    fn later(&mut self, ms: u64, event: Event) {
        self.number += 1;
        let at = self.now + Span::from_millis(ms);
        self.queue.insert((at, self.number), event);
    }

    fn answer(&mut self, request: Request) {
        match request {
            Request::Scan(_) => {}
            Request::Connect(id) if id != trainer() => {
                let found = if id == meter() {
                    (CYCLING_POWER, CYCLING_POWER_MEASUREMENT)
                } else {
                    (HEART_RATE, HEART_RATE_MEASUREMENT)
                };
                self.later(30, Event::Connected(id, vec![found]));
            }
            Request::Connect(id) if self.connect_fails => {
                self.later(100, Event::ConnectFailed(id, Failure::NotFound));
            }
            Request::Connect(id) => {
                self.linked = true;
                let found = [
                    FITNESS_MACHINE_FEATURE,
                    POWER_RANGE,
                    RESISTANCE_RANGE,
                    INDOOR_BIKE_DATA,
                    FITNESS_MACHINE_STATUS,
                    CONTROL_POINT,
                ];
                let found = found.map(|one| (FITNESS_MACHINE, one)).to_vec();
                self.later(30, Event::Connected(id, found));
            }
            Request::Disconnect(id) if id != trainer() => {
                self.later(10, Event::Disconnected(id));
            }
            Request::Disconnect(id) => {
                self.linked = false;
                self.queue.clear();
                self.later(10, Event::Disconnected(id));
            }
            Request::Read(id, what) if id != trainer() => {
                self.later(10, Event::Read(id, what, Err(Failure::NotFound)));
            }
            Request::Read(id, what) => {
                let value = match what {
                    FITNESS_MACHINE_FEATURE => FitnessMachineFeature {
                        machine: FitnessMachineFeature::CADENCE,
                        targets: FitnessMachineFeature::RESISTANCE_TARGET
                            | FitnessMachineFeature::SPIN_DOWN
                            | if self.levels_alone {
                                0
                            } else {
                                FitnessMachineFeature::POWER_TARGET
                            },
                    }
                    .encode(),
                    POWER_RANGE => PowerRange {
                        least: LEAST,
                        most: MOST,
                        step: 1,
                    }
                    .encode(),
                    _ => vec![0, 100, 1],
                };
                self.later(10, Event::Read(id, what, Ok(value)));
            }
            Request::Subscribe(id, what) => self.later(10, Event::Subscribed(id, what, Ok(()))),
            Request::Write(id, what, bytes) => {
                let outcome = match self.mood {
                    _ if !self.linked => Err(Failure::LinkLost),
                    Mood::Att(code) => Err(Failure::Att(code)),
                    _ => Ok(()),
                };
                let answered = outcome.is_ok() && self.mood != Mood::Silent;
                self.later(20, Event::Written(id.clone(), what, outcome));
                let result = match self.mood {
                    Mood::All(code) => code,
                    Mood::Result(code) if bytes[0] != 0 => code,
                    _ => 1,
                };
                if answered
                    && result == 1
                    && let [0x04, level, ..] = bytes[..]
                {
                    self.level = level;
                }
                if answered {
                    let answer = vec![0x80, bytes[0], result];
                    self.later(60, Event::Notified(id, what, answer));
                }
            }
        }
    }

    /// Time passes; where `awake`, all that falls due is handled at its time, else at the end.
    fn pass(&mut self, ms: u64, awake: bool) {
        let until = self.now + Span::from_millis(ms);
        let mut spun = 0;
        loop {
            let event = self.queue.first_key_value().map(|((at, _), _)| *at);
            let wake = self.core.poll_timeout();
            let due = if awake {
                event
                    .into_iter()
                    .chain(wake)
                    .min()
                    .filter(|due| *due <= until)
            } else {
                event.filter(|due| *due <= until)
            };
            let Some(due) = due else { break };
            // A deadline that has passed and is still named is put off by a microsecond each time.
            spun = if due <= self.now + Span(1) {
                spun + 1
            } else {
                0
            };
            assert!(spun < 1_000, "the core spins at {:?}", self.now);
            self.now = if awake { self.now.max(due) } else { until };
            if event.is_some_and(|event| event <= self.now) {
                let ((_, _), event) = self.queue.pop_first().unwrap();
                self.feed(Input::Device(event));
            } else {
                self.feed(Input::Wake);
            }
        }
        self.now = until;
    }

    fn play(&mut self, turn: &Turn) {
        let id = trainer();
        match turn.clone() {
            Turn::Up | Turn::UpLong => {
                let blocks = if matches!(turn, Turn::Up) {
                    BLOCKS
                } else {
                    LONG
                };
                let choice = Choice {
                    plan: session(blocks),
                    rider: Arc::new(campaigner()),
                    mode: RideMode::TargetPower,
                };
                self.feed(Input::Command(Command::Choose(Box::new(choice))));
                self.feed(Input::Command(Command::Use(Role::Trainer, Some(id))));
                self.feed(Input::Command(Command::Use(Role::Meter, Some(meter()))));
                self.feed(Input::Command(Command::Use(Role::Heart, Some(strap()))));
                self.pass(1_000, true);
            }
            Turn::LevelsAlone => self.levels_alone = true,
            Turn::Along(cadence) => {
                for _ in 0..40 {
                    let pushed = (60.0 + 3.0 * f64::from(self.level)) * f64::from(cadence) / 85.0;
                    self.play(&Turn::Pedal {
                        after_ms: 250,
                        cadence,
                        watts: pushed as i16,
                    });
                }
            }
            Turn::Start => self.feed(Input::Command(Command::Start)),
            Turn::End => {
                self.feed(Input::Command(Command::End));
                self.feed(Input::Command(Command::End));
            }
            Turn::Hand(command) => self.feed(Input::Command(command)),
            Turn::Pedal {
                after_ms,
                cadence,
                watts,
            } => {
                self.pass(after_ms, true);
                if self.linked {
                    let bytes = IndoorBikeData::default()
                        .with_speed(MetresPerSecond(8.0))
                        .with_cadence(Rpm(f64::from(cadence)))
                        .with_power(Watts(f64::from(watts)))
                        .encode();
                    self.feed(Input::Device(Event::Notified(id, INDOOR_BIKE_DATA, bytes)));
                }
            }
            Turn::Stall(step) => {
                for report in 0..16 {
                    let cadence = 90_u16.saturating_sub(step * report);
                    self.play(&Turn::Pedal {
                        after_ms: 250,
                        cadence,
                        watts: 150,
                    });
                }
            }
            Turn::Strained(cadence, bpm) => {
                for _ in 0..30 {
                    self.play(&Turn::Pedal {
                        after_ms: 1_000,
                        cadence,
                        watts: 190,
                    });
                    self.play(&Turn::Heart(bpm));
                }
            }
            Turn::Meter(watts) => {
                let bytes = CyclingPowerMeasurement::of(Watts(f64::from(watts))).encode();
                self.feed(Input::Device(Event::Notified(
                    meter(),
                    CYCLING_POWER_MEASUREMENT,
                    bytes,
                )));
            }
            Turn::Heart(bpm) => {
                let bytes = HeartRateMeasurement::of(Bpm(f64::from(bpm))).encode();
                self.feed(Input::Device(Event::Notified(
                    strap(),
                    HEART_RATE_MEASUREMENT,
                    bytes,
                )));
            }
            Turn::SensorLost(role) => {
                let id = if role == Role::Meter {
                    meter()
                } else {
                    strap()
                };
                self.feed(Input::Device(Event::Disconnected(id)));
            }
            Turn::Wait(ms) => self.pass(ms, true),
            Turn::HeldUp(ms) => self.pass(ms, false),
            Turn::Mood(mood) => self.mood = mood,
            Turn::Noise(what, bytes) => {
                if self.linked {
                    self.feed(Input::Device(Event::Notified(id, what, bytes)));
                }
            }
            Turn::LinkLost => {
                self.linked = false;
                self.queue.clear();
                self.feed(Input::Device(Event::Disconnected(id)));
            }
            Turn::ConnectFails => {
                self.connect_fails = !self.connect_fails;
            }
            Turn::Crowd(count) => {
                for number in 0..count {
                    self.feed(Input::Device(Event::Heard(Advertisement {
                        device: DeviceId::new(format!("stranger:{number}")),
                        name: Some("?".repeat(300)),
                        services: vec![HEART_RATE; 40],
                        machine_data: None,
                        rssi: None,
                        simulated: false,
                    })));
                }
            }
            Turn::Disk(report) => self.feed(Input::Recorder(report)),
            Turn::Slept(seconds) => self.feed(Input::Slept(Span::from_seconds(seconds))),
            Turn::Event(event) => self.feed(Input::Device(event)),
        }
    }
}

/// Plays the turns, and then lets the trainer be well for forty seconds.
pub fn campaign(turns: &[Turn]) -> Trace {
    let mut campaign = Campaign {
        core: Core::new(EPOCH_MS),
        now: Instant::ZERO,
        mood: Mood::Result(1),
        connect_fails: false,
        linked: false,
        levels_alone: false,
        level: 0,
        queue: BTreeMap::new(),
        number: 0,
        trace: Trace::default(),
    };
    campaign.core.handle(Instant::ZERO, slow(&trainer()));
    for turn in turns {
        campaign.play(turn);
    }
    campaign.trace.sorts = if campaign.levels_alone { 1 } else { 2 };
    if campaign.trace.end().is_some() {
        campaign.mood = Mood::Result(1);
        campaign.connect_fails = false;
        campaign.pass(40_000, true);
    }
    campaign.trace
}
