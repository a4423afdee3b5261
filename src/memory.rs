//! What is remembered between rides: cautions seen, devices used, what was learned of each trainer.
//!
//! The core gets it as its first input and puts it out whenever it has changed; the store keeps it on the disk.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::plan::fit::Recoveries;
use crate::plan::name_in_english;
use crate::units::{BrakeLag, BrakeTarget};

/// The version that this program writes. It goes up when an older program could misread a newer file.
pub const VERSION: u32 = 1;

/// So many trainers may be marked as held at a time: more than anybody rides on between two starts of the program.
pub const MOST_HELD: usize = 8;

/// So many sessions may be remembered as ridden with easier recoveries: more than anybody builds up to at a time.
pub const MOST_EASED: usize = 32;

/// What is remembered between rides. Keys that this program does not know are kept as they are.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Memory {
    /// The version of the file.
    pub version: u32,
    /// The day on which the cautions were last seen and taken, as `2026-11-24`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cautions_seen: Option<String>,
    /// The trainers whose brakes this program held when it last heard of them, the newest last. Set when a load is asked
    /// for, cleared when the trainer confirms that it is let off: where one stands at a start that trainer may still hold
    /// its last load. Never a model, which ends with the program. At most [`MOST_HELD`]: then the oldest goes.
    ///
    /// In the file a single one is a text of its own, several are a list.
    #[serde(default, with = "one_or_more", skip_serializing_if = "Vec::is_empty")]
    pub control_held: Vec<String>,
    /// What was learned of each trainer, by its address.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub trainers: BTreeMap<String, TrainerMemory>,
    /// The devices last used, by role.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub devices: BTreeMap<String, String>,
    /// The services that tell what each of these devices is, by its address, as found on its last link: "1826". A device
    /// that has others now is another one.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub services: BTreeMap<String, Vec<String>>,
    /// The sessions whose recoveries were last ridden easier, the newest last. At most [`MOST_EASED`]: then the oldest
    /// goes.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub eased: Vec<Eased>,
    /// What a newer program keeps here.
    #[serde(flatten)]
    pub rest: toml::Table,
}

impl Default for Memory {
    fn default() -> Self {
        Self {
            version: VERSION,
            cautions_seen: None,
            control_held: Vec::new(),
            trainers: BTreeMap::new(),
            devices: BTreeMap::new(),
            services: BTreeMap::new(),
            eased: Vec::new(),
            rest: toml::Table::new(),
        }
    }
}

/// A session whose recoveries were last ridden easier.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Eased {
    /// Its name; of a built-in session the English one, whichever of its languages was ridden.
    pub session: String,
    /// How, by the word of [`Recoveries::key`]; a word of a newer program counts as nothing.
    pub recoveries: String,
}

/// What was learned of one trainer.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct TrainerMemory {
    /// Its name when last seen.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub name: String,
    /// How its brake answers a command.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lag: Option<BrakeLag>,
    /// The fixed level or slope that was found for effort-only riding.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub free_target: Option<BrakeTarget>,
    /// Whether its speed was seen to be a wheel's own, which the gears set, and not one reckoned from power.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wheel_speed: Option<bool>,
    /// Power at fixed levels by the wheel's speed, m/s.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub levels: Vec<LevelPoint>,
    /// Whether the points above are of slopes: the trainer takes no levels.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub levels_are_slopes: bool,
    /// The form in which it was seen to take a resistance level: `octet` or `word`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub resistance_form: Option<String>,
    /// Whether its flywheel is fixed to the pedals, as the rider answered; not asked yet where it is missing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fixed_flywheel: Option<bool>,
    /// The sorts of target that it refused although it lists them, in words.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub refused: Vec<String>,
    /// When it was last calibrated by a spin-down from here, in UTC as `2026-11-24T18:00:00Z`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub spin_down: Option<String>,
    /// What a newer program keeps here.
    #[serde(flatten)]
    pub rest: toml::Table,
}

/// What a brake asked for at a level that stood.
///
/// In the file it is a list of its five figures in this order.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(into = "[f64; 5]", from = "[f64; 5]")]
pub struct LevelPoint {
    /// The level as a share of the trainer's range, 0 to 1.
    pub share: f64,
    /// The wheel's speed, m/s.
    pub rate: f64,
    /// The mean power there, W.
    pub watts: f64,
    /// The standard deviation of the power there, W.
    pub spread: f64,
    /// So many seconds went into it; counted up to a limit, so that newer ones still move it.
    pub seconds: f64,
}

impl From<LevelPoint> for [f64; 5] {
    fn from(p: LevelPoint) -> Self {
        [p.share, p.rate, p.watts, p.spread, p.seconds]
    }
}

impl From<[f64; 5]> for LevelPoint {
    fn from([share, rate, watts, spread, seconds]: [f64; 5]) -> Self {
        Self {
            share,
            rate,
            watts,
            spread,
            seconds,
        }
    }
}

/// A list of which a single one stands as itself.
mod one_or_more {
    use serde::{Deserialize, Deserializer, Serialize, Serializer};

    #[derive(Deserialize)]
    #[serde(untagged)]
    enum OneOrMore {
        One(String),
        More(Vec<String>),
    }

    pub fn serialize<S: Serializer>(all: &[String], to: S) -> Result<S::Ok, S::Error> {
        match all {
            [one] => one.serialize(to),
            more => more.serialize(to),
        }
    }

    pub fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Vec<String>, D::Error> {
        Ok(match OneOrMore::deserialize(from)? {
            OneOrMore::One(one) => vec![one],
            OneOrMore::More(mut more) => {
                // A file from anywhere may hold more; the newest stand last.
                let surplus = more.len().saturating_sub(super::MOST_HELD);
                more.drain(..surplus);
                more
            }
        })
    }
}

impl Memory {
    /// Whether a trainer is marked as held.
    pub fn holds(&self, address: &str) -> bool {
        self.control_held.iter().any(|held| held == address)
    }

    /// Marks a trainer as held.
    pub fn mark_held(&mut self, address: &str) {
        self.unmark_held(address);
        if self.control_held.len() >= MOST_HELD {
            self.control_held.remove(0);
        }
        self.control_held.push(address.to_owned());
    }

    /// Takes the mark away.
    pub fn unmark_held(&mut self, address: &str) {
        self.control_held.retain(|held| held != address);
    }

    /// Whether a device is remembered in any role.
    pub fn knows(&self, address: &str) -> bool {
        self.devices.values().any(|known| known == address)
    }

    /// Remembers nothing more of a device's roles and services. That its brake may be held stays: only the trainer's own
    /// word takes that away, or the rider's.
    pub fn forget(&mut self, address: &str) {
        self.devices.retain(|_, known| known != address);
        self.services.remove(address);
    }

    /// How the recoveries of the session of this name were last ridden; full where nothing else is known.
    pub fn last_recoveries(&self, session: &str) -> Recoveries {
        let session = name_in_english(session);
        let last = self.eased.iter().rev().find(|one| one.session == session);
        last.and_then(|one| Recoveries::of(&one.recoveries))
            .unwrap_or_default()
    }

    /// Takes in how they were ridden now. Full ones are the usual, and need not be remembered.
    pub fn ridden_with(&mut self, session: &str, recoveries: Recoveries) {
        let session = name_in_english(session);
        self.eased.retain(|one| one.session != session);
        if recoveries != Recoveries::Full {
            let surplus = (self.eased.len() + 1).saturating_sub(MOST_EASED);
            self.eased.drain(..surplus);
            self.eased.push(Eased {
                session: session.to_owned(),
                recoveries: recoveries.key().to_owned(),
            });
        }
    }

    /// What is known of a trainer, to be filled.
    pub fn trainer(&mut self, address: &str) -> &mut TrainerMemory {
        self.trainers.entry(address.to_owned()).or_default()
    }
}
