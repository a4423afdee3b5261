//! Takes out of a log what tells of a person: names and addresses of devices, the rider's name, paths of the computer, and
//! the day. Each is replaced by the same other thing wherever it stands, so that the disguised inputs are a ride too.

mod paths;
mod toml_texts;

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use crate::device::{Adapter, Advertisement, DeviceId, Event, Failure, SIMULATED};
use crate::engine::command::{Choice, Command};
use crate::engine::input::{Input, Recorder};
use crate::memory::Memory;
use crate::plan::fit::Fitting;
use crate::plan::{self, Plan};

/// What the rider is called.
const RIDER: &str = "Rider";

/// Names of devices of fewer letters are not looked for inside of texts: they would be found in every other word.
const SHORTEST_NAME: usize = 3;

/// Words of a name of fewer letters are not looked for by themselves.
const SHORTEST_PART: usize = 3;

/// Words that stand in the names of devices and tell of nobody.
const COMMON: [&str; 28] = [
    "trainer", "bike", "heart", "rate", "strap", "belt", "chest", "power", "meter", "pedal",
    "pedals", "crank", "cadence", "speed", "sensor", "smart", "fitness", "indoor", "cycling",
    "cycle", "turbo", "roller", "dual", "plus", "the", "and", "for", "new",
];

const DAY_MS: i64 = 86_400_000;

/// Days from 1970-01-01 to 2000-01-01, the day of every disguised ride: 30 years and 7 leap days.
const DAY: i64 = 30 * 365 + 7;

/// What is replaced by what. Bounded by the log that it was gathered from.
#[derive(Clone, Debug, Default)]
pub struct Disguise {
    devices: BTreeMap<String, String>,
    names: BTreeMap<String, String>,
    riders: BTreeSet<String>,
    /// Each session's text, with the plan in its place; none where no name stands in it.
    sessions: BTreeMap<String, Option<Arc<Plan>>>,
    /// So many days everything is put back.
    days: i64,
}

impl Disguise {
    /// Notes the wall clock at the log's zero. `keep_day` leaves it as it is.
    pub fn gather_day(&mut self, epoch_ms: i64, keep_day: bool) {
        self.days = if keep_day {
            0
        } else {
            epoch_ms.div_euclid(DAY_MS) - DAY
        };
    }

    /// Notes the names and addresses of an input. All of a log is gathered before anything is replaced.
    pub fn gather(&mut self, input: &Input) {
        match input {
            Input::Device(event) => self.gather_event(event),
            Input::Command(Command::TakeUp(take_up)) => {
                self.gather(&Input::Command(Command::Choose(Box::new(
                    take_up.choice.clone(),
                ))));
            }
            Input::Command(Command::Choose(choice)) => {
                self.riders.insert(choice.rider.name.clone());
                self.sessions.insert(choice.plan.source.to_string(), None);
                if let Some(fitting) = &choice.plan.fitted {
                    self.sessions.insert(fitting.written.to_string(), None);
                }
            }
            Input::Command(Command::Use(_, Some(id)) | Command::Forget(id)) => {
                self.device(id.as_str())
            }
            Input::Remembered(memory) => {
                let listed = memory.devices.values().chain(memory.services.keys());
                for id in listed
                    .chain(memory.trainers.keys())
                    .chain(&memory.control_held)
                {
                    self.device(id);
                }
                for (id, trainer) in &memory.trainers {
                    self.name(id, &trainer.name);
                }
            }
            Input::Wake
            | Input::Command(_)
            | Input::Slept(_)
            | Input::Recorder(_)
            | Input::Zone(_) => {}
        }
    }

    fn gather_event(&mut self, event: &Event) {
        match event {
            Event::Heard(heard) => {
                self.device(heard.device.as_str());
                if let Some(name) = &heard.name {
                    self.name(heard.device.as_str(), name);
                }
            }
            Event::Connected(id, _)
            | Event::ConnectFailed(id, _)
            | Event::Disconnected(id)
            | Event::Read(id, _, _)
            | Event::Subscribed(id, _, _)
            | Event::Written(id, _, _)
            | Event::Notified(id, _, _) => self.device(id.as_str()),
            Event::Adapter(_) | Event::Lost(_) => {}
        }
    }

    fn device(&mut self, id: &str) {
        // A practice device is the same on every computer.
        if !id.starts_with(SIMULATED) && !self.devices.contains_key(id) {
            self.devices.insert(id.to_owned(), String::new());
        }
    }

    fn name(&mut self, id: &str, name: &str) {
        if !id.starts_with(SIMULATED) && !name.is_empty() {
            self.names.insert(name.to_owned(), String::new());
        }
    }

    /// Gives everything gathered its stand-in. Addresses keep their order, since devices are gone through in it.
    ///
    /// # Errors
    /// A sentence where a session would be none without a name in it, or still hold one.
    pub fn settle(&mut self) -> Result<(), String> {
        for (number, stand_in) in (1..).zip(self.devices.values_mut()) {
            let number: u32 = number;
            *stand_in = format!(
                "00:00:00:{:02X}:{:02X}:{:02X}",
                number >> 16 & 0xFF,
                number >> 8 & 0xFF,
                number & 0xFF
            );
        }
        for (number, stand_in) in (1..).zip(self.names.values_mut()) {
            let number: u32 = number;
            *stand_in = format!("Device {number}");
        }
        let sources: Vec<String> = self.sessions.keys().cloned().collect();
        for source in sources {
            let plan = self.session(&source)?;
            self.sessions.insert(source, plan);
        }
        Ok(())
    }

    /// Every name and address that is taken out.
    pub fn secrets(&self) -> Vec<&str> {
        let riders = self.riders.iter().filter(|name| *name != RIDER);
        let of_devices = self.devices.keys().chain(self.names.keys());
        of_devices.chain(riders).map(String::as_str).collect()
    }

    /// The wall clock at the log's zero: the day is replaced, the time of day stays.
    pub const fn epoch_ms(&self, epoch_ms: i64) -> i64 {
        epoch_ms.saturating_sub(self.days.saturating_mul(DAY_MS))
    }

    /// An input without what was gathered.
    pub fn input(&self, input: Input) -> Input {
        match input {
            Input::Device(event) => Input::Device(self.event(event)),
            Input::Command(Command::Choose(choice)) => {
                Input::Command(Command::Choose(Box::new(self.choice(&choice))))
            }
            Input::Command(Command::TakeUp(mut take_up)) => {
                let choice = self.choice(&take_up.choice);
                take_up.disguise(choice, |ms| self.epoch_ms(ms), |id| self.id(id));
                Input::Command(Command::TakeUp(take_up))
            }
            Input::Command(Command::Use(role, Some(id))) => {
                Input::Command(Command::Use(role, Some(self.id(&id))))
            }
            Input::Command(Command::Forget(id)) => Input::Command(Command::Forget(self.id(&id))),
            Input::Remembered(memory) => Input::Remembered(Box::new(self.memory(*memory))),
            Input::Recorder(report) => Input::Recorder(recorder(report)),
            other => other,
        }
    }

    fn id(&self, id: &DeviceId) -> DeviceId {
        self.devices
            .get(id.as_str())
            .map_or_else(|| id.clone(), DeviceId::new)
    }

    fn address(&self, id: &str) -> String {
        self.devices.get(id).map_or(id, String::as_str).to_owned()
    }

    fn event(&self, event: Event) -> Event {
        let failed = |failure: Failure| match failure {
            Failure::Forbidden(why) => Failure::Forbidden(self.text(&why)),
            Failure::Other(why) => Failure::Other(self.text(&why)),
            other => other,
        };
        match event {
            Event::Adapter(adapter) => Event::Adapter(match adapter {
                Adapter::Missing(why) => Adapter::Missing(self.text(&why)),
                Adapter::Off(why) => Adapter::Off(self.text(&why)),
                Adapter::Forbidden(why) => Adapter::Forbidden(self.text(&why)),
                other => other,
            }),
            Event::Heard(heard) => Event::Heard(Advertisement {
                device: self.id(&heard.device),
                name: heard.name.map(|name| {
                    let stand_in = self.names.get(&name);
                    stand_in.cloned().unwrap_or(name)
                }),
                ..heard
            }),
            Event::Connected(id, found) => Event::Connected(self.id(&id), found),
            Event::ConnectFailed(id, why) => Event::ConnectFailed(self.id(&id), failed(why)),
            Event::Disconnected(id) => Event::Disconnected(self.id(&id)),
            Event::Read(id, what, value) => Event::Read(self.id(&id), what, value.map_err(failed)),
            Event::Subscribed(id, what, done) => {
                Event::Subscribed(self.id(&id), what, done.map_err(failed))
            }
            Event::Written(id, what, done) => {
                Event::Written(self.id(&id), what, done.map_err(failed))
            }
            Event::Notified(id, what, value) => Event::Notified(self.id(&id), what, value),
            Event::Lost(count) => Event::Lost(count),
        }
    }

    fn choice(&self, choice: &Choice) -> Choice {
        let mut rider = (*choice.rider).clone();
        rider.name = RIDER.to_owned();
        // The session stays as it was written, but for the rider's and the devices' names in it.
        let stand_in = |source: &str| self.sessions.get(source).cloned().flatten();
        let mut plan = stand_in(&choice.plan.source).unwrap_or_else(|| choice.plan.clone());
        if let Some(fitting) = &choice.plan.fitted {
            let mut fitting = Fitting::clone(fitting);
            if let Some(written) = stand_in(&fitting.written) {
                fitting.written = written.source.clone();
            }
            Arc::make_mut(&mut plan).fitted = Some(Arc::new(fitting));
        }
        Choice {
            plan,
            rider: rider.into(),
            mode: choice.mode,
        }
    }

    fn memory(&self, memory: Memory) -> Memory {
        let mut out = Memory {
            version: memory.version,
            cautions_seen: memory.cautions_seen.map(|day| self.day(&day)),
            control_held: memory
                .control_held
                .iter()
                .map(|id| self.address(id))
                .collect(),
            trainers: BTreeMap::new(),
            devices: memory
                .devices
                .into_iter()
                .map(|(role, id)| (role, self.address(&id)))
                .collect(),
            services: memory
                .services
                .into_iter()
                .map(|(id, found)| (self.address(&id), found))
                .collect(),
            // Sessions are called by whoever wrote them; what is offered before a ride changes nothing in it.
            eased: Vec::new(),
            // What a newer program keeps is not known, so neither is whom it tells of.
            rest: toml::Table::new(),
        };
        for (id, mut trainer) in memory.trainers {
            let stand_in = self.names.get(&trainer.name).cloned();
            trainer.name = stand_in.unwrap_or(trainer.name);
            trainer.spin_down = trainer.spin_down.map(|moment| self.moment(&moment));
            trainer.rest = toml::Table::new();
            out.trainers.insert(self.address(&id), trainer);
        }
        out
    }

    fn day(&self, day: &str) -> String {
        let shifted = day.parse::<jiff::civil::Date>().ok().and_then(|date| {
            date.checked_sub(jiff::Span::new().try_days(self.days).ok()?)
                .ok()
        });
        shifted.map_or_else(|| "2000-01-01".to_owned(), |date| date.to_string())
    }

    fn moment(&self, moment: &str) -> String {
        let shifted = moment.parse::<jiff::Timestamp>().ok().and_then(|at| {
            let hours = jiff::Span::new()
                .try_hours(self.days.checked_mul(24)?)
                .ok()?;
            at.checked_sub(hours).ok()
        });
        shifted.map_or_else(|| "2000-01-01T00:00:00Z".to_owned(), |at| at.to_string())
    }

    /// What stands for a rider or a device, the longest name first: one may hold another.
    fn stand_ins(&self) -> Vec<(&str, &str)> {
        let riders = self.riders.iter().map(|name| (name.trim(), RIDER));
        let names = self.names.iter();
        let names = names
            .map(|(name, other)| (name.trim(), other.as_str()))
            .filter(|(name, _)| name.chars().count() >= SHORTEST_NAME);
        let mut all: Vec<_> = riders.chain(names).collect();
        all.retain(|(name, other)| !name.is_empty() && name != other);
        all.sort_by_key(|(name, _)| std::cmp::Reverse(name.len()));
        all
    }

    fn names_out_of(&self, text: &str) -> String {
        replaced(text, &self.stand_ins(), true)
    }

    /// The same of the words that names are made of: who calls a trainer "Tims Trainer" is called so elsewhere too.
    fn parts_out_of(&self, text: &str) -> String {
        let mut all = self.stand_ins();
        let riders = self.riders.iter().map(|name| (name.as_str(), RIDER));
        let names = self.names.iter();
        let names = names.map(|(name, other)| (name.as_str(), other.as_str()));
        for (name, other) in riders.chain(names) {
            let words = name.split(|letter: char| !letter.is_alphanumeric());
            let telling = words.filter(|word| {
                let least = if other == RIDER { 2 } else { SHORTEST_PART };
                word.chars().count() >= least
                    && word.chars().any(char::is_alphabetic)
                    && !COMMON.contains(&word.to_lowercase().as_str())
                    && *word != RIDER
            });
            all.extend(telling.map(|word| (word, other)));
        }
        // The longest first, and of the same word what stands for the rider: the order was theirs.
        all.sort_by_key(|(name, _)| std::cmp::Reverse(name.len()));
        replaced(text, &all, true)
    }

    /// A session without the names: they go out of its comments and of the strings that are read by people.
    fn session(&self, source: &str) -> Result<Option<Arc<Plan>>, String> {
        let without = |out: &dyn Fn(&str) -> String| {
            let mut text = String::with_capacity(source.len());
            let mut from = 0;
            for (start, end) in toml_texts::spans(source) {
                text += &source[from..start];
                text += &out(&source[start..end]);
                from = end;
            }
            text + &source[from..]
        };
        let mut text = without(&|part| self.parts_out_of(part));
        let mut read = plan::read(&text);
        if read.plan.is_none() {
            // A word of a name may be one of the format's own.
            text = without(&|part| self.names_out_of(part));
            read = plan::read(&text);
        }
        let hidden = toml::from_str::<toml::Table>(&text)
            .is_ok_and(|table| self.is_named_in(&toml::Value::Table(table)));
        if hidden || (text != source && read.plan.is_none()) {
            return Err(entry!(
                "The rider's or a device's name stands in the session's text where it cannot be replaced, so nothing \
                 was exported. Take the name out of the session, or send the recording to nobody."
            )
            .to_owned());
        }
        Ok(read.plan.filter(|_| text != source).map(Arc::new))
    }

    /// Whether a name can be read in a value once its escapes are.
    fn is_named_in(&self, value: &toml::Value) -> bool {
        match value {
            toml::Value::String(text) => self.names_out_of(text) != *text,
            toml::Value::Array(all) => all.iter().any(|value| self.is_named_in(value)),
            toml::Value::Table(table) => table
                .iter()
                .any(|(key, value)| key != toml_texts::WORD && self.is_named_in(value)),
            _ => false,
        }
    }

    /// A text of the system: addresses in every spelling, names and paths are replaced.
    fn text(&self, text: &str) -> String {
        let mut text = self.parts_out_of(text);
        for (id, other) in &self.devices {
            for between in [":", "_", "-", ""] {
                let (id, other) = (id.replace(':', between), other.replace(':', between));
                text = replaced(&text, &[(&id, &other)], false);
            }
        }
        paths::out_of(&text)
    }
}

/// The folder of a ride tells who rode and when; what the disk says tells both. Neither changes what is ridden.
fn recorder(report: Recorder) -> Recorder {
    const FOLDER: &str = "rides/ride";
    const TROUBLE: &str = entry!("The recording was in trouble; what the system said is left out.");
    match report {
        Recorder::Began(_) => Recorder::Began(FOLDER.to_owned()),
        Recorder::Closed(_) => Recorder::Closed(FOLDER.to_owned()),
        Recorder::Trouble(_) => Recorder::Trouble(TROUBLE.to_owned()),
        Recorder::Forgotten(_) => Recorder::Forgotten(TROUBLE.to_owned()),
        other => other,
    }
}

/// Every occurrence of each, whatever the case of its letters; with `words` only where no letter or digit stands beside it.
fn replaced(text: &str, all: &[(&str, &str)], words: bool) -> String {
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    let mut before: Option<char> = None;
    while let Some(letter) = rest.chars().next() {
        let found = all.iter().find_map(|(what, with)| {
            let length = starts_with(rest, what)?;
            let joined = |a: Option<char>, b: Option<char>| {
                a.is_some_and(char::is_alphanumeric) && b.is_some_and(char::is_alphanumeric)
            };
            // With its genitive it is the name still.
            let tail = &rest[length..];
            let tail = tail.strip_prefix(['s', 'S']).unwrap_or(tail);
            let inside = words
                && (joined(before, what.chars().next())
                    || joined(what.chars().next_back(), tail.chars().next()));
            (!inside).then_some((length, *with))
        });
        let length = match found {
            Some((length, with)) => {
                out += with;
                length
            }
            None => {
                out.push(letter);
                letter.len_utf8()
            }
        };
        before = rest[..length].chars().next_back();
        rest = &rest[length..];
    }
    out
}

/// The length of the beginning that is `what`, whatever the case; none where there is no such beginning.
fn starts_with(text: &str, what: &str) -> Option<usize> {
    let mut letters = text.chars();
    for other in what.chars() {
        let letter = letters.next()?;
        if letter != other && !letter.to_lowercase().eq(other.to_lowercase()) {
            return None;
        }
    }
    let length = text.len() - letters.as_str().len();
    (length > 0).then_some(length)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn an_address_is_found_in_every_spelling_and_paths_go() {
        let mut disguise = Disguise::default();
        disguise.gather(&Input::Device(Event::Disconnected(DeviceId::new(
            "F0:00:00:00:1A:03",
        ))));
        disguise.settle().unwrap();
        let text = disguise.text(
            "dev_f0_00_00_00_1A_03 F0:00:00:00:1a:03 f0-00-00-00-1a-03 F000000 01A03 /home/robin/x (/var/y) /org/bluez/hci0",
        );
        assert_eq!(
            text,
            "dev_00_00_00_00_00_01 00:00:00:00:00:01 00-00-00-00-00-01 F000000 01A03 (path) ((path)) /org/bluez/hci0"
        );
    }

    #[test]
    fn the_day_goes_and_the_time_of_day_stays() {
        let mut disguise = Disguise::default();
        // `date -u -d 2026-11-24T18:30:05Z +%s` gives 1795545005, `date -u -d 2000-01-01T18:30:05Z +%s` 946751405.
        disguise.gather_day(1_795_545_005_000, false);
        assert_eq!(disguise.epoch_ms(1_795_545_005_000), 946_751_405_000);
        assert_eq!(disguise.day("2026-11-23"), "1999-12-31");
        assert_eq!(
            disguise.moment("2026-11-24T18:30:05Z"),
            "2000-01-01T18:30:05Z"
        );
        assert_eq!(disguise.day("tomorrow"), "2000-01-01");
    }
}
