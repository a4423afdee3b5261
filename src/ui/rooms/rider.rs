//! The rider's page: every figure as it is typed, with its unit, its range, the reason for it, and what is wrong with it.
//!
//! The words for what is wrong come from the reader of rider files and so from the one table of legal ranges: what is
//! typed is written as a file and read back.

mod draw;

pub use draw::page_ui;

use std::sync::Arc;

use crate::rider::fields::{CONFIRMED, NEVER};
use crate::rider::{self, PauseAfter, Rider};
use crate::text::{translated, word};
use crate::time::Span;
use crate::toml_table::Severity;
use crate::units::{Bpm, Joules, Legal, Watts, legal};

/// One figure of the page.
#[derive(Clone, Copy, Debug)]
pub struct Entry {
    /// Its key in the rider file.
    pub key: &'static str,
    /// What it is called; in English, and looked up where it is drawn.
    pub label: &'static str,
    /// Its range; none for the name.
    pub legal: Option<Legal>,
    /// Whether it may be left empty.
    pub optional: bool,
    /// What it is for, in a few words; in English, and looked up where it is drawn.
    pub why: &'static str,
}

const fn entry(
    key: &'static str,
    label: &'static str,
    legal: Option<Legal>,
    optional: bool,
    why: &'static str,
) -> Entry {
    Entry {
        key,
        label,
        legal,
        optional,
        why,
    }
}

/// The figures in the order in which they are asked for: the left column, then the right.
pub const ENTRIES: [Entry; 12] = [
    entry(
        "name",
        entry!("Name"),
        None,
        false,
        entry!("On the screen and in recordings."),
    ),
    entry(
        "threshold",
        entry!("Threshold"),
        Some(legal::THRESHOLD),
        false,
        entry!("What you can hold for about an hour."),
    ),
    entry(
        "power_cap",
        entry!("Power cap"),
        Some(legal::POWER_CAP),
        false,
        entry!("The most that the brake holds."),
    ),
    entry(
        "sprint_cap",
        entry!("Sprint cap"),
        Some(legal::SPRINT_CAP),
        false,
        entry!("The most in a sprint."),
    ),
    entry(
        "w_prime",
        entry!("W′"),
        Some(legal::W_PRIME),
        false,
        entry!("Work above threshold."),
    ),
    entry(
        "heart_rate_ceiling",
        entry!("Heart-rate ceiling"),
        Some(legal::HEART_RATE),
        true,
        entry!("Above it the load eases."),
    ),
    entry(
        "max_heart_rate",
        entry!("Highest heart rate"),
        Some(legal::HEART_RATE),
        true,
        entry!("As measured."),
    ),
    entry(
        "rest_heart_rate",
        entry!("Heart rate at rest"),
        Some(legal::HEART_RATE),
        true,
        entry!("As measured, lying still."),
    ),
    entry(
        "age",
        entry!("Age"),
        Some(legal::AGE),
        true,
        entry!("Sets nothing by itself."),
    ),
    entry(
        "pause_after",
        entry!("Pause after"),
        Some(legal::PAUSE_AFTER_SECONDS),
        false,
        entry!("Pedals still: the clock stops."),
    ),
    entry(
        "chainrings",
        entry!("Chainrings"),
        Some(legal::CHAINRING),
        true,
        entry!("As 50 34."),
    ),
    entry(
        "sprockets",
        entry!("Sprockets"),
        Some(legal::SPROCKET),
        true,
        entry!("With the rings they count shifts."),
    ),
];

/// What the choice of the meter is called, and what it is for; looked up where it is drawn.
pub const METER_LED: [&str; 2] = [
    entry!("Hold my power meter's watts"),
    entry!(
        "For a meter that you trust more than the trainer: a slow correction, by a tenth at most."
    ),
];

impl Entry {
    /// "30 to 600 W.", "30 to 240 bpm, or empty."; nothing for the name.
    pub fn range(&self) -> String {
        let Some(legal) = self.legal else {
            return String::new();
        };
        let unit = word(legal.unit);
        let to = word!("to" # "from one figure to another");
        let range = format!("{} {to} {} {unit}", legal.least, legal.most);
        let range = range.trim_end();
        if self.optional {
            format!("{range}{}", word!(", or empty."))
        } else if self.key == "pause_after" {
            format!("{range}{}", say!(", or {never}.", never = never()))
        } else {
            format!("{range}.")
        }
    }

    /// Whether it is a list of whole numbers.
    pub fn is_list(&self) -> bool {
        matches!(self.key, "chainrings" | "sprockets")
    }

    /// Whether it is marked "check me" until somebody has checked it.
    pub fn is_checked(&self) -> bool {
        CONFIRMED.contains(&self.key)
    }
}

/// The word for a clock that never pauses, as it is typed.
fn never() -> &'static str {
    word!("never")
}

/// A figure as it is typed.
fn typed(figure: f64) -> String {
    crate::text::figure(&figure.to_string()).into_owned()
}

/// A rider while being edited.
#[derive(Clone, Debug, PartialEq)]
pub struct Form {
    /// The place on the shelf that it was taken from and goes back to; none for a new rider.
    pub place: Option<usize>,
    /// What is typed, entry by entry.
    pub texts: [String; ENTRIES.len()],
    /// Which of the figures that are marked somebody has checked, entry by entry.
    pub checked: [bool; ENTRIES.len()],
    /// What is wrong, entry by entry: a sentence, or nothing.
    pub errors: [Option<String>; ENTRIES.len()],
    /// What may not be meant, entry by entry.
    pub doubts: [Option<String>; ENTRIES.len()],
    /// The rider as typed, each figure that is wrong as it was before.
    pub draft: Rider,
    /// Whether a ride begins by a separate meter's watts.
    pub meter_led: bool,
    /// Why it was not saved, in a sentence.
    pub refusal: Option<String>,
    /// Whether it was the file that was in the way: then it can be read again.
    pub reread: bool,
    /// Whether the first field still has to be given the keyboard.
    pub fresh: bool,
    base: Rider,
}

impl Form {
    /// For a rider at a place of the shelf, or a new one.
    pub fn new(place: Option<usize>, base: &Rider) -> Self {
        let rate = |rate: Option<Bpm>| rate.map_or_else(String::new, |rate| typed(rate.0));
        let teeth = |teeth: &[u16]| {
            let all: Vec<String> = teeth.iter().map(u16::to_string).collect();
            all.join(" ")
        };
        let texts = ENTRIES.map(|entry| match entry.key {
            "name" => base.name.clone(),
            "threshold" => typed(base.threshold.0),
            "power_cap" => typed(base.power_cap.0),
            "sprint_cap" => typed(base.sprint_cap.0),
            "w_prime" => typed(base.w_prime.0),
            "heart_rate_ceiling" => rate(base.heart_rate_ceiling),
            "max_heart_rate" => rate(base.max_heart_rate),
            "rest_heart_rate" => rate(base.rest_heart_rate),
            "age" => base.age.map_or_else(String::new, |age| age.to_string()),
            "chainrings" => teeth(&base.drivetrain.chainrings),
            "sprockets" => teeth(&base.drivetrain.sprockets),
            _ => match base.pause_after {
                PauseAfter::Never => never().to_owned(),
                PauseAfter::After(span) => span.whole_seconds().to_string(),
            },
        });
        let unconfirmed = |entry: Entry| base.unconfirmed.iter().any(|key| key == entry.key);
        let mut form = Self {
            place,
            texts,
            checked: ENTRIES.map(|entry| !unconfirmed(entry)),
            errors: Default::default(),
            doubts: Default::default(),
            draft: base.clone(),
            meter_led: base.meter_led,
            refusal: None,
            reread: false,
            fresh: true,
            base: base.clone(),
        };
        form.check();
        form
    }

    /// A new rider with the cautious figures of a first start, and a name that nobody else has.
    pub fn for_a_new_rider<'a>(names: impl Iterator<Item = &'a str> + Clone) -> Self {
        let cautious = Rider::default();
        let taken = |name: &str| names.clone().any(|other| other == name);
        let first = translated(&cautious.name).into_owned();
        let mut name = first.clone();
        let mut number = 2;
        while taken(&name) {
            name = format!("{first} {number}");
            number += 1;
        }
        Self::new(None, &Rider { name, ..cautious })
    }

    /// Takes in that an entry was typed into: whoever types a figure has checked it.
    pub fn typed(&mut self, entry: usize) {
        self.checked[entry] = true;
        self.forgive();
        self.check();
    }

    /// What was refused is being changed: the refusal has been read.
    pub fn forgive(&mut self) {
        self.refusal = None;
        self.reread = false;
    }

    /// The same over the rider as their file says by now: what was changed here stays, all else comes from the file.
    #[must_use]
    pub fn over(&self, read: &Rider) -> Self {
        let (before, mut form) = (
            Self::new(self.place, &self.base),
            Self::new(self.place, read),
        );
        for index in 0..ENTRIES.len() {
            if self.texts[index] != before.texts[index] {
                form.texts[index].clone_from(&self.texts[index]);
            }
            if self.checked[index] != before.checked[index] {
                form.checked[index] = self.checked[index];
            }
        }
        if self.meter_led != before.meter_led {
            form.meter_led = self.meter_led;
        }
        form.fresh = false;
        form.check();
        form
    }

    /// Looks everything over again: what is wrong, and the rider that stands for what is right.
    pub fn check(&mut self) {
        self.errors = Default::default();
        self.doubts = Default::default();
        let mut rider = self.base.clone();
        rider.meter_led = self.meter_led;
        for (index, entry) in ENTRIES.iter().enumerate() {
            if let Err(words) = set(&mut rider, entry, self.texts[index].trim()) {
                self.errors[index] = Some(words);
            }
        }
        rider.unconfirmed = CONFIRMED
            .iter()
            .filter(|&&key| {
                let index = ENTRIES.iter().position(|entry| entry.key == key);
                !index.is_some_and(|index| self.checked[index])
            })
            .map(|&key| key.to_owned())
            .collect();
        let text = rider::to_toml(&rider);
        let (_, problems) = rider::read(&text);
        for problem in problems {
            let line = text.lines().nth(problem.line.saturating_sub(1));
            let key = line.and_then(|line| line.split_once(" = "));
            let index = key.and_then(|(key, _)| ENTRIES.iter().position(|entry| entry.key == key));
            // What is not of the page, the effort map, was read from a file and is right.
            let Some(index) = index else { continue };
            let said = match problem.severity {
                Severity::Error => &mut self.errors[index],
                Severity::Warning => &mut self.doubts[index],
            };
            said.get_or_insert(problem.what);
        }
        // The strip shows what is right already; a figure that is wrong keeps its old value there.
        let mut draft = rider;
        for (index, entry) in ENTRIES.iter().enumerate() {
            if self.errors[index].is_some() {
                restore(&mut draft, entry.key, &self.base);
            }
        }
        draft.source = Arc::clone(&self.base.source);
        self.draft = draft;
    }

    /// How many entries are wrong.
    pub fn wrong(&self) -> usize {
        self.errors.iter().flatten().count()
    }

    /// The rider to be saved, with the text that it was edited from as its source; nothing while an entry is wrong.
    pub fn rider(&self) -> Option<&Rider> {
        (self.wrong() == 0).then_some(&self.draft)
    }
}

/// Puts what was typed for an entry into the rider, in its range or not.
fn set(rider: &mut Rider, entry: &Entry, text: &str) -> Result<(), String> {
    if entry.key == "name" {
        if text.is_empty() {
            return Err(word!("A rider needs a name.").to_owned());
        }
        text.clone_into(&mut rider.name);
        return Ok(());
    }
    let is = |word: &str| text.eq_ignore_ascii_case(word);
    // As the file has it, or as the page says it.
    if entry.key == "pause_after" && (is(NEVER) || is(never())) {
        rider.pause_after = PauseAfter::Never;
        return Ok(());
    }
    if entry.is_list() {
        let list = teeth(text)?;
        match entry.key {
            "chainrings" => rider.drivetrain.chainrings = list,
            _ => rider.drivetrain.sprockets = list,
        }
        return Ok(());
    }
    let value = match (text, entry.optional) {
        ("", true) => None,
        ("", false) => return Err(word!("Write a number here.").to_owned()),
        _ => Some(number(text)?),
    };
    let watts = || Watts(value.unwrap_or_default());
    match entry.key {
        "threshold" => rider.threshold = watts(),
        "power_cap" => rider.power_cap = watts(),
        "sprint_cap" => rider.sprint_cap = watts(),
        "w_prime" => rider.w_prime = Joules(value.unwrap_or_default()),
        "heart_rate_ceiling" => rider.heart_rate_ceiling = value.map(Bpm),
        "max_heart_rate" => rider.max_heart_rate = value.map(Bpm),
        "rest_heart_rate" => rider.rest_heart_rate = value.map(Bpm),
        "age" => rider.age = value.map(whole).transpose()?.map(|age| age.min(255) as u8),
        _ => {
            rider.pause_after =
                PauseAfter::After(Span::from_seconds(whole(value.unwrap_or_default())?))
        }
    }
    Ok(())
}

/// Whole numbers with blanks or commas between them.
fn teeth(text: &str) -> Result<Vec<u16>, String> {
    text.split([' ', ','])
        .filter(|piece| !piece.is_empty())
        .map(|piece| {
            let digits = piece.bytes().all(|byte| byte.is_ascii_digit());
            // What is too large for the type is too large for the range as well.
            digits
                .then(|| piece.parse().unwrap_or(u16::MAX))
                .ok_or_else(|| word!("Write whole numbers with blanks between them.").to_owned())
        })
        .collect()
}

/// A number of digits with one point or comma at most; no sign, since nothing here goes below nought.
fn number(text: &str) -> Result<f64, String> {
    let text = text.replace(',', ".");
    let plain = text.len() <= 9
        && text
            .chars()
            .all(|letter| letter.is_ascii_digit() || letter == '.');
    plain
        .then(|| text.parse().ok())
        .flatten()
        .ok_or_else(|| word!("Write a plain number, as 180.").to_owned())
}

fn whole(value: f64) -> Result<u64, String> {
    if value.fract() == 0.0 {
        Ok(value as u64)
    } else {
        Err(word!("Write a whole number.").to_owned())
    }
}

fn restore(rider: &mut Rider, key: &str, base: &Rider) {
    match key {
        "name" => rider.name.clone_from(&base.name),
        "threshold" => rider.threshold = base.threshold,
        "power_cap" => rider.power_cap = base.power_cap,
        "sprint_cap" => rider.sprint_cap = base.sprint_cap,
        "w_prime" => rider.w_prime = base.w_prime,
        "heart_rate_ceiling" => rider.heart_rate_ceiling = base.heart_rate_ceiling,
        "max_heart_rate" => rider.max_heart_rate = base.max_heart_rate,
        "rest_heart_rate" => rider.rest_heart_rate = base.rest_heart_rate,
        "age" => rider.age = base.age,
        "chainrings" => rider
            .drivetrain
            .chainrings
            .clone_from(&base.drivetrain.chainrings),
        "sprockets" => rider
            .drivetrain
            .sprockets
            .clone_from(&base.drivetrain.sprockets),
        _ => rider.pause_after = base.pause_after,
    }
}
