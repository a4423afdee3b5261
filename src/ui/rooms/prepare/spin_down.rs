//! The calibration of a trainer in Prepare: a button at its row, and the guide's page.

use crate::control::SpinDownStage;
use crate::engine::command::Role;
use crate::engine::snapshot::{DeviceRow, Link, Snapshot};
use crate::text::{decimal, translated};
use crate::ui::words;

/// The button at the trainer's row.
#[derive(Clone, Debug, PartialEq)]
pub struct CalibrateButton {
    /// Its words.
    pub words: &'static str,
    /// Its name for a screen reader.
    pub spoken: String,
}

/// The guide's page.
#[derive(Clone, Debug, PartialEq)]
pub struct Guide {
    /// What the rider is told, large.
    pub sentence: String,
    /// The wheel's speed, "27.4 km/h"; a dash where it is not known.
    pub speed: String,
    /// Between which speeds it is wanted; empty where that is not asked now.
    pub window: String,
    /// The button that leaves it.
    pub leave: &'static str,
}

/// The button for a device; none where it is not the trainer in use or offers no spin-down.
pub fn button(row: &DeviceRow, snapshot: &Snapshot) -> Option<CalibrateButton> {
    let trainer = row.used_for.contains(&Role::Trainer) && row.link == Link::Connected;
    (trainer && snapshot.spin_down.offered).then(|| CalibrateButton {
        words: if snapshot.spin_down.asked_for {
            word!("Calibrate (asked)")
        } else {
            word!("Calibrate")
        },
        spoken: say!(
            "Calibrate {name} by a spin-down",
            name = translated(&row.name)
        ),
    })
}

/// What the guide shows now; none while there is none.
pub fn guide(snapshot: &Snapshot) -> Option<Guide> {
    let guide = snapshot.spin_down.guide.as_ref()?;
    let kmh = |metres: f64| decimal(metres * 3.6, 1);
    let speed = snapshot.speed.fresh();
    Some(Guide {
        sentence: translated(&guide.sentence).into_owned(),
        speed: speed.map_or_else(
            || words::DASH.to_owned(),
            |speed| format!("{} km/h", kmh(speed.0)),
        ),
        window: match (guide.stage, guide.window) {
            (SpinDownStage::Speeding, Some((low, high))) => {
                say!(
                    "wanted: {low} to {high} km/h",
                    low = kmh(low.0),
                    high = kmh(high.0)
                )
            }
            _ => String::new(),
        },
        leave: if guide.stage.is_over() {
            word!("Back to Prepare")
        } else {
            word!("Leave it")
        },
    })
}
