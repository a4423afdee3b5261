//! A trainer with knobs: it speaks bytes like any other, and misbehaves as it is told.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, MutexGuard};

use stillroad::device::{Backend, DeviceId, Event, Failure, Request};
use stillroad::gatt::control_point::{Request as Command, Response, ResultCode};
use stillroad::gatt::uuid16::{
    CONTROL_POINT, FITNESS_MACHINE, FITNESS_MACHINE_FEATURE, FITNESS_MACHINE_STATUS,
    INDOOR_BIKE_DATA, POWER_RANGE, RESISTANCE_RANGE,
};
use stillroad::gatt::{
    FitnessMachineFeature, IndoorBikeData, PowerRange, ResistanceRange, Status, Uuid16,
};
use stillroad::time::{Instant, Span};
use stillroad::units::{MetresPerSecond, Rpm, Watts};

/// From a request to its answer.
const REPLY: Span = Span::from_millis(20);
/// Between two reports: not a divisor of a second, so that nothing falls together by chance.
const REPORTS: Span = Span::from_millis(430);

/// How it behaves; may be turned at any time.
#[derive(Clone, Debug)]
pub struct Knobs {
    /// Least, most and step of target power, W; none where the range cannot be read.
    pub power_range: Option<(i16, i16, u16)>,
    /// Whether its features offer target power.
    pub offers_power: bool,
    /// Whether it has resistance levels, 0 to 10 in steps of 0.1.
    pub offers_levels: bool,
    /// Whether it imitates slopes.
    pub slopes: bool,
    /// Whether its features offer a spin-down.
    pub spins_down: bool,
    /// What it answers to a level in one octet and to one in two: the results' octets.
    pub level_forms: Option<(u8, u8)>,
    /// Whether the speed that it reports is the wheel's; else it is nought.
    pub speed: bool,
    /// Whether there is a control point at all.
    pub control_point: bool,
    /// What it answers to request control.
    pub control: ResultCode,
    /// What it answers to target power.
    pub target_power: ResultCode,
    /// No target acts, result 04, before op 07.
    pub needs_start: bool,
    /// The control point's indications do not come.
    pub silent: bool,
    /// Writes are neither acknowledged nor heard until the link is made anew.
    pub hangs: bool,
    /// The same on every link.
    pub always_hangs: bool,
    /// From a write to its acknowledgement, where that is later than usual; the indication comes after it.
    pub acknowledges_after: Span,
    /// From a write to its indication.
    pub answers_after: Span,
    /// Every write fails with this ATT error.
    pub att_error: Option<u8>,
    /// Links cannot be made.
    pub out_of_reach: bool,
    /// Reports stop.
    pub mute: bool,
    /// The same report over and over, whatever happens.
    pub frozen: bool,
    /// It reports cadence 0 and power 0 whatever the legs do.
    pub zeros: bool,
    /// What the legs do, rpm; 0 stands still.
    pub cadence: f64,
    /// What the legs make where no watts are held, W.
    pub free_power: f64,
    /// What they make at least while they turn, W, whatever is held.
    pub least_power: f64,
    /// The share of the held watts that they give; all of it where none.
    pub gives: Option<f64>,
    /// The cranks turn without being pushed.
    pub slack: bool,
    /// Reports carry no cadence.
    pub no_cadence: bool,
    /// What it answers to a command, by op code, whatever it is: the result's octet. Nothing is done then.
    pub answers: BTreeMap<u8, u8>,
    /// The op code that its answers name in place of the right one.
    pub names_op: Option<u8>,
    /// Its answers are cut after two octets.
    pub short: bool,
    /// Reports carry no power.
    pub no_power: bool,
    /// What each level adds to what the legs make, W.
    pub watts_a_level: f64,
}

impl Default for Knobs {
    fn default() -> Self {
        Self {
            power_range: Some((0, 1000, 1)),
            offers_power: true,
            offers_levels: true,
            slopes: false,
            spins_down: false,
            level_forms: None,
            speed: true,
            control_point: true,
            control: ResultCode::Success,
            target_power: ResultCode::Success,
            needs_start: false,
            silent: false,
            hangs: false,
            always_hangs: false,
            acknowledges_after: Span::ZERO,
            answers_after: Span::from_millis(60),
            att_error: None,
            out_of_reach: false,
            mute: false,
            frozen: false,
            zeros: false,
            cadence: 85.0,
            free_power: 90.0,
            least_power: 0.0,
            gives: None,
            slack: false,
            no_cadence: false,
            answers: BTreeMap::new(),
            names_op: None,
            short: false,
            no_power: false,
            watts_a_level: 0.0,
        }
    }
}

/// The trainer as it stands.
#[derive(Debug)]
pub struct State {
    pub knobs: Knobs,
    linked: bool,
    granted: bool,
    started: bool,
    subscribed: Vec<Uuid16>,
    /// The watts it holds; none where no target power stands.
    pub holds: Option<i16>,
    /// The level that stands where no watts are held.
    level: f64,
    queue: BTreeMap<(Instant, u64), Event>,
    number: u64,
    next_report: Option<Instant>,
    last_report: Option<Vec<u8>>,
    /// The truth of each report that was sent: when, cadence, power.
    pub told: Vec<(Instant, f64, f64)>,
}

/// A handle on the trainer: the backend itself, and the test's hand on its knobs.
#[derive(Clone, Debug)]
pub struct Fake {
    name: &'static str,
    state: Arc<Mutex<State>>,
}

impl Fake {
    pub fn new(knobs: Knobs) -> Self {
        Self::named("fake:trainer", knobs)
    }

    pub fn named(name: &'static str, knobs: Knobs) -> Self {
        Self {
            name,
            state: Arc::new(Mutex::new(State {
                knobs,
                linked: false,
                granted: false,
                started: false,
                subscribed: Vec::new(),
                holds: None,
                level: 0.0,
                queue: BTreeMap::new(),
                number: 0,
                next_report: None,
                last_report: None,
                told: Vec::new(),
            })),
        }
    }

    pub fn id(&self) -> DeviceId {
        DeviceId::new(self.name)
    }

    pub fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap()
    }

    /// Turns knobs.
    pub fn turn(&self, turn: impl FnOnce(&mut Knobs)) {
        turn(&mut self.state().knobs);
    }

    /// The link breaks now.
    pub fn drop_link(&self, now: Instant) {
        let id = self.id();
        let mut state = self.state();
        if state.linked {
            state.unlink();
            state.push(now, Event::Disconnected(id));
        }
    }

    /// Status FF: control is taken away.
    pub fn withdraw(&self, now: Instant) {
        let id = self.id();
        let mut state = self.state();
        state.granted = false;
        state.push(
            now,
            Event::Notified(id, FITNESS_MACHINE_STATUS, Status::ControlLost.encode()),
        );
    }
}

impl State {
    fn push(&mut self, at: Instant, event: Event) {
        self.number += 1;
        self.queue.insert((at, self.number), event);
    }

    fn unlink(&mut self) {
        self.linked = false;
        self.knobs.hangs = false;
        self.granted = false;
        self.started = false;
        self.subscribed.clear();
        self.next_report = None;
        self.queue.clear();
    }

    /// It no longer knows who holds its brake, and says nothing.
    pub fn forget_grant(&mut self) {
        self.granted = false;
    }

    fn characteristics(&self) -> Vec<(Uuid16, Uuid16)> {
        let mut found = vec![
            FITNESS_MACHINE_FEATURE,
            INDOOR_BIKE_DATA,
            FITNESS_MACHINE_STATUS,
        ];
        found.extend(self.knobs.power_range.map(|_| POWER_RANGE));
        found.extend(self.knobs.offers_levels.then_some(RESISTANCE_RANGE));
        found.extend(self.knobs.control_point.then_some(CONTROL_POINT));
        found.into_iter().map(|c| (FITNESS_MACHINE, c)).collect()
    }

    fn value(&self, characteristic: Uuid16) -> Result<Vec<u8>, Failure> {
        let bit = |on: bool, bit: u32| if on { bit } else { 0 };
        match characteristic {
            FITNESS_MACHINE_FEATURE => Ok(FitnessMachineFeature {
                machine: FitnessMachineFeature::CADENCE | FitnessMachineFeature::POWER_MEASUREMENT,
                targets: bit(self.knobs.offers_power, FitnessMachineFeature::POWER_TARGET)
                    | bit(
                        self.knobs.offers_levels,
                        FitnessMachineFeature::RESISTANCE_TARGET,
                    )
                    | bit(self.knobs.slopes, FitnessMachineFeature::SIMULATION)
                    | bit(self.knobs.spins_down, FitnessMachineFeature::SPIN_DOWN),
            }
            .encode()),
            POWER_RANGE => {
                let range = self.knobs.power_range.ok_or(Failure::NotFound)?;
                let (least, most, step) = range;
                Ok(PowerRange { least, most, step }.encode())
            }
            RESISTANCE_RANGE => Ok(ResistanceRange::Octets {
                least: 0,
                most: 100,
                step: 1,
            }
            .encode()),
            _ => Err(Failure::NotFound),
        }
    }

    /// What it answers to a command, and what it does with it.
    fn obey(&mut self, command: &Command) -> ResultCode {
        if let Command::RequestControl = command {
            self.granted = self.knobs.control == ResultCode::Success;
            return self.knobs.control;
        }
        if !self.granted {
            return ResultCode::NotPermitted;
        }
        match *command {
            Command::StartOrResume => self.started = true,
            Command::StopOrPause(_) => self.started = false,
            _ if self.knobs.needs_start && !self.started => return ResultCode::Failed,
            Command::Power(watts) => {
                if self.knobs.target_power != ResultCode::Success {
                    return self.knobs.target_power;
                }
                self.holds = Some(watts);
            }
            Command::Resistance(level) => {
                self.holds = None;
                self.level = level.level().0;
            }
            Command::Simulation(_) if self.knobs.slopes => self.holds = None,
            _ => return ResultCode::NotSupported,
        }
        ResultCode::Success
    }

    fn write(&mut self, now: Instant, id: &DeviceId, bytes: &[u8]) -> Result<(), Failure> {
        if let Some(code) = self.knobs.att_error {
            return Err(Failure::Att(code));
        }
        let command = Command::decode(bytes).map_err(|_| Failure::Att(0x0D))?;
        let form = |(octet, word)| if bytes.len() == 2 { octet } else { word };
        let by_form = self
            .knobs
            .level_forms
            .filter(|_| bytes[0] == 0x04)
            .map(form);
        let told = self.knobs.answers.get(&command.op()).copied();
        let told = told.or(by_form.filter(|octet| *octet != 1));
        let result = match told {
            Some(octet) => ResultCode::from_code(octet),
            None => self.obey(&command),
        };
        if told == Some(5) {
            self.granted = false;
        }
        if !self.knobs.silent {
            let op = self.knobs.names_op.unwrap_or(command.op());
            let mut answer = Response::new(op, result).encode();
            if self.knobs.short {
                answer.truncate(2);
            }
            let after = self.knobs.answers_after.0.max(REPLY.0 + 1);
            self.push(
                now + Span(after),
                Event::Notified(id.clone(), CONTROL_POINT, answer),
            );
        }
        Ok(())
    }

    fn report(&mut self, at: Instant, id: DeviceId) {
        let knobs = &self.knobs;
        let turning = knobs.cadence > 0.0 && !knobs.zeros;
        let cadence = if turning { knobs.cadence } else { 0.0 };
        let power = match self.holds {
            _ if !turning || knobs.slack => 0.0,
            Some(watts) => (f64::from(watts) * knobs.gives.unwrap_or(1.0)).max(knobs.least_power),
            None => knobs.free_power + knobs.watts_a_level * self.level,
        };
        let no_cadence = knobs.no_cadence;
        let (frozen, mute) = (knobs.frozen, knobs.mute);
        if mute {
            return;
        }
        let speed = if knobs.speed { cadence / 10.0 } else { 0.0 };
        let record = IndoorBikeData::default().with_speed(MetresPerSecond(speed));
        let record = if knobs.no_power {
            record
        } else {
            record.with_power(Watts(power))
        };
        let fresh = if no_cadence {
            record.encode()
        } else {
            record.with_cadence(Rpm(cadence)).encode()
        };
        let bytes = match &self.last_report {
            Some(last) if frozen => last.clone(),
            _ => fresh,
        };
        self.last_report = Some(bytes.clone());
        self.told.push((at, cadence, power));
        self.push(at, Event::Notified(id, INDOOR_BIKE_DATA, bytes));
    }
}

impl Backend for Fake {
    fn owns(&self, device: &DeviceId) -> bool {
        device.as_str() == self.name
    }

    fn request(&mut self, now: Instant, request: Request) {
        let mut state = self.state();
        let unlinked = Err(Failure::LinkLost);
        let answer = match request {
            Request::Scan(_) => return,
            Request::Connect(id) if state.knobs.out_of_reach => {
                Event::ConnectFailed(id, Failure::NotFound)
            }
            Request::Connect(id) => {
                state.linked = true;
                Event::Connected(id, state.characteristics())
            }
            Request::Disconnect(id) => {
                state.unlink();
                Event::Disconnected(id)
            }
            Request::Read(id, what) if state.linked => Event::Read(id, what, state.value(what)),
            Request::Read(id, what) => Event::Read(id, what, Err(Failure::LinkLost)),
            Request::Subscribe(id, what) if state.linked => {
                state.subscribed.push(what);
                if what == INDOOR_BIKE_DATA {
                    state.next_report = Some(now + REPORTS);
                }
                Event::Subscribed(id, what, Ok(()))
            }
            Request::Subscribe(id, what) => Event::Subscribed(id, what, unlinked),
            Request::Write(..)
                if state.linked && (state.knobs.hangs || state.knobs.always_hangs) =>
            {
                return;
            }
            Request::Write(id, what, bytes) if state.linked => {
                let late = state.knobs.acknowledges_after;
                let result = state.write(now + late, &id, &bytes);
                state.push(now + late + REPLY, Event::Written(id, what, result));
                return;
            }
            Request::Write(id, what, _) => Event::Written(id, what, unlinked),
        };
        state.push(now + REPLY, answer);
    }

    fn poll_event(&mut self, now: Instant) -> Option<(Instant, Event)> {
        let id = self.id();
        let mut state = self.state();
        while let Some(due) = state.next_report.filter(|due| *due <= now) {
            state.next_report = Some(due + REPORTS);
            state.report(due, id.clone());
        }
        let first = *state.queue.first_key_value()?.0;
        if first.0 > now {
            return None;
        }
        state.queue.pop_first().map(|((at, _), event)| (at, event))
    }

    fn poll_timeout(&self) -> Option<Instant> {
        let state = self.state();
        let first = state.queue.first_key_value().map(|((at, _), _)| *at);
        first.into_iter().chain(state.next_report).min()
    }
}
