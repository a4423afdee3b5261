//! `ride.toml`: what was known at the start of a ride.

use std::sync::Arc;

use serde::{Deserialize, Serialize};
use toml::value::Datetime;

use super::cell::write_time;
use super::log::PROGRAM;
use super::{FittedFrom, RideStart};
use crate::plan::fit::{Fitting, Recoveries, Wish};
use crate::ride::RideMode;
use crate::units::{Legal, Watts, legal};

/// The version of the whole folder's format. It goes up when an older program could misread a newer folder.
pub const FORMAT: u32 = 1;

#[derive(Serialize, Deserialize)]
struct Document {
    format: u32,
    program: String,
    started: Datetime,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    spin_down: Option<Datetime>,
    session: SessionPart,
    rider: RiderPart,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    fitted: Option<FittedPart>,
    #[serde(default)]
    devices: Vec<DevicePart>,
}

#[derive(Serialize, Deserialize)]
struct SessionPart {
    name: String,
    mode: RideMode,
}

#[derive(Serialize, Deserialize)]
struct RiderPart {
    name: String,
    threshold_w: f64,
    power_cap_w: f64,
    sprint_cap_w: f64,
}

/// Only of a session that was fitted to the day; `written.toml` has it as it was written.
#[derive(Serialize, Deserialize)]
struct FittedPart {
    /// The time there was.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    minutes: Option<u32>,
    /// Minutes more of warm-up.
    #[serde(default)]
    warm_up: u32,
    /// A word, so that one of a newer program is no reason to read nothing.
    #[serde(default)]
    recoveries: String,
    #[serde(default)]
    changes: Vec<String>,
    /// Which written block, from 1, each ridden one is.
    #[serde(default)]
    blocks: Vec<u32>,
}

#[derive(Serialize, Deserialize)]
struct DevicePart {
    role: String,
    name: String,
    address: String,
    #[serde(default)]
    simulated: bool,
}

/// Only the version, which must be readable whatever else has changed.
#[derive(Deserialize)]
struct Version {
    format: u32,
    #[serde(default)]
    program: String,
}

/// Why a `ride.toml` could not be written or read.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum RideTomlError {
    /// It is no TOML, or a key is missing or holds something else.
    #[error("ride.toml cannot be read: {0}")]
    Unreadable(String),
    /// It was written by a newer program.
    #[error(
        "this ride was recorded by {program} in format {format}; this program reads formats up to {FORMAT}. \
         Open it with a newer program"
    )]
    Newer {
        /// The format that it has.
        format: u32,
        /// The program that wrote it, in its own words.
        program: String,
    },
    /// It cannot be put into words of the file's format.
    #[error("ride.toml cannot be written: {0}")]
    Unwritable(String),
}

/// The text of `ride.toml`. The session's and the rider's own text stand in files beside it.
///
/// # Errors
/// [`RideTomlError::Unwritable`] where the moment of the start is outside the calendar.
pub fn write(start: &RideStart) -> Result<String, RideTomlError> {
    write_as(start, PROGRAM)
}

/// The same as another program would have written it, which calls itself so.
///
/// # Errors
/// As [`write()`].
pub fn write_as(start: &RideStart, program: &str) -> Result<String, RideTomlError> {
    let started = write_time(start.utc_ms);
    let document = Document {
        format: FORMAT,
        program: program.to_owned(),
        started: started.parse().map_err(|_| {
            RideTomlError::Unwritable(
                entry!("the time of the start is not a moment of the calendar").into(),
            )
        })?,
        // A moment that cannot be read says nothing, and is no reason to lose the ride's start.
        spin_down: start
            .spin_down
            .as_ref()
            .and_then(|moment| moment.parse().ok()),
        session: SessionPart {
            name: start.session.clone(),
            mode: start.mode,
        },
        rider: RiderPart {
            name: start.rider.clone(),
            threshold_w: start.threshold.0,
            power_cap_w: start.power_cap.0,
            sprint_cap_w: start.sprint_cap.0,
        },
        fitted: start.fitted.as_ref().map(|fitted| FittedPart {
            minutes: fitted.fitting.wish.minutes,
            warm_up: fitted.fitting.wish.warm_up,
            recoveries: fitted.fitting.wish.recoveries.key().to_owned(),
            changes: fitted.changes.clone(),
            blocks: fitted.fitting.blocks.clone(),
        }),
        devices: start
            .devices
            .iter()
            .map(|(role, name, address, simulated)| DevicePart {
                role: role.clone(),
                name: name.clone(),
                address: address.clone(),
                simulated: *simulated,
            })
            .collect(),
    };
    toml::to_string(&document).map_err(|error| RideTomlError::Unwritable(error.to_string()))
}

/// What was known at the start, from `ride.toml` and the two texts beside it. Unknown keys are passed over. The text of
/// `written.toml` is left empty, for whoever has it to put there.
///
/// # Errors
/// [`RideTomlError::Unreadable`] and [`RideTomlError::Newer`].
pub fn read(
    text: &str,
    session_text: Arc<str>,
    rider_text: Arc<str>,
) -> Result<RideStart, RideTomlError> {
    let unreadable =
        |error: toml::de::Error| RideTomlError::Unreadable(error.to_string().trim().to_owned());
    let version: Version = toml::from_str(text).map_err(unreadable)?;
    if version.format > FORMAT {
        return Err(RideTomlError::Newer {
            format: version.format,
            program: version.program,
        });
    }
    let document: Document = toml::from_str(text).map_err(unreadable)?;
    let started: jiff::Timestamp = document.started.to_string().parse().map_err(|_| {
        RideTomlError::Unreadable(kept!(
            "started = {moment} is not a moment in UTC",
            moment = document.started
        ))
    })?;
    let legal = |key: &str, legal: Legal, value: f64| {
        let checked = legal.check(value).map(Watts);
        checked.map_err(|why| RideTomlError::Unreadable(format!("rider.{key}: {why}")))
    };
    Ok(RideStart {
        utc_ms: started.as_millisecond(),
        session: document.session.name,
        session_text,
        fitted: document.fitted.map(|fitted| FittedFrom {
            fitting: Arc::new(Fitting {
                written: Arc::from(""),
                wish: Wish {
                    minutes: fitted.minutes,
                    warm_up: fitted.warm_up,
                    recoveries: Recoveries::of(&fitted.recoveries).unwrap_or_default(),
                },
                blocks: fitted.blocks,
            }),
            changes: fitted.changes,
        }),
        rider: document.rider.name,
        rider_text,
        mode: document.session.mode,
        threshold: legal("threshold_w", legal::THRESHOLD, document.rider.threshold_w)?,
        power_cap: legal("power_cap_w", legal::POWER_CAP, document.rider.power_cap_w)?,
        sprint_cap: legal(
            "sprint_cap_w",
            legal::SPRINT_CAP,
            document.rider.sprint_cap_w,
        )?,
        spin_down: document.spin_down.map(|moment| moment.to_string()),
        devices: document
            .devices
            .into_iter()
            .map(|device| (device.role, device.name, device.address, device.simulated))
            .collect(),
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn start() -> RideStart {
        RideStart {
            utc_ms: 1_000_000_000_007,
            session: "Früh \"und\" kalt\n= 1".to_owned(),
            session_text: Arc::from("name = \"x\""),
            fitted: Some(FittedFrom {
                fitting: Arc::new(Fitting {
                    written: Arc::from(""),
                    wish: Wish {
                        minutes: Some(35),
                        warm_up: 0,
                        recoveries: Recoveries::HalfWay,
                    },
                    blocks: vec![1, 2, 4],
                }),
                changes: vec!["Pier \"so\": once in place of 2 times.".into()],
            }),
            rider: "Ådne".to_owned(),
            rider_text: Arc::from(""),
            mode: RideMode::EffortOnly,
            threshold: Watts(212.5),
            power_cap: Watts(300.0),
            sprint_cap: Watts(450.0),
            spin_down: Some("2001-09-01T10:00:00Z".into()),
            devices: vec![
                ("trainer".into(), "KICK".into(), "AA:BB".into(), false),
                ("heart".into(), "'strap'".into(), "practice".into(), true),
            ],
        }
    }

    #[test]
    fn what_was_known_comes_back() {
        let start = start();
        let text = write(&start).unwrap();
        assert!(
            text.contains("started = 2001-09-09T01:46:40.007Z"),
            "{text}"
        );
        assert!(text.contains("format = 1"));
        for line in [
            "[fitted]",
            "minutes = 35",
            "warm_up = 0",
            "recoveries = \"half-way\"",
            "blocks = [1, 2, 4]",
        ] {
            assert!(text.lines().any(|other| other == line), "{line} in {text}");
        }
        let back = read(&text, start.session_text.clone(), start.rider_text.clone()).unwrap();
        assert_eq!(back, start);
        // A ride that was not fitted, or of before, has no such part; and a word of tomorrow is passed over.
        let plain = RideStart {
            fitted: None,
            ..start
        };
        let bare = write(&plain).unwrap();
        assert!(!bare.contains("fitted"), "{bare}");
        let texts = (plain.session_text.clone(), plain.rider_text.clone());
        assert_eq!(read(&bare, texts.0, texts.1).unwrap(), plain);
        let newer = text.replace("\"half-way\"", "\"a third\"");
        let back = read(&newer, "".into(), "".into()).unwrap().fitted.unwrap();
        assert_eq!(back.fitting.wish.recoveries, Recoveries::Full);
    }

    #[test]
    fn a_newer_or_broken_file_is_named_for_what_it_is() {
        let read = |text: &str| super::read(text, Arc::from(""), Arc::from("")).unwrap_err();
        assert_eq!(
            read("format = 9\nprogram = \"stillroad 4.0\"\nnew = 1").to_string(),
            "this ride was recorded by stillroad 4.0 in format 9; this program reads formats up to 1. Open it with \
             a newer program"
        );
        for text in [
            "",
            "format = 1",
            "\u{0}",
            "format = \"one\"",
            "[",
            "format = -1",
        ] {
            assert!(
                matches!(read(text), RideTomlError::Unreadable(_)),
                "{text:?}"
            );
        }
        for (figure, wild) in [
            ("threshold_w = 212.5", "threshold_w = nan"),
            ("power_cap_w = 300.0", "power_cap_w = 1e300"),
            ("sprint_cap_w = 450.0", "sprint_cap_w = -450.0"),
        ] {
            let text = write(&start()).unwrap().replace(figure, wild);
            assert!(text.contains(wild), "{text}");
            let told = read(&text).to_string();
            let key = wild.split(' ').next().unwrap();
            assert!(
                told.contains(key) && told.contains("is outside 30 to"),
                "{told}"
            );
        }
        let local = write(&start()).unwrap().replace(".007Z", "");
        assert!(read(&local).to_string().contains("not a moment in UTC"));
    }
}
