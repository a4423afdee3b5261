//! What must hold of a brake on tired legs, whatever happens.

use stillroad::record::Kept;

use super::campaign::{LEAST, Trace};
use super::checks::control_writes;
use crate::world::watts_of;

/// From the guard's act until it says that it is over nothing is set but a release.
pub fn nothing_is_set_while_the_guard_acts(trace: &Trace) -> Result<(), String> {
    let mut acts = false;
    for step in &trace.steps {
        let said = |word: &str| {
            step.kept
                .iter()
                .any(|kept| matches!(kept, Kept::Event(event) if event.what == word))
        };
        let acted = acts;
        acts = (acts || said("guard")) && !said("guard-over");
        // In the input that begins or ends it, what was asked before it may still be on its way.
        if !(acted && acts) {
            continue;
        }
        for bytes in control_writes(step) {
            let sets = match watts_of(bytes) {
                Some(watts) => watts > LEAST,
                None => matches!(bytes, [0x04, level, ..] if *level > 0) || bytes[0] == 0x11,
            };
            let lets_off_in_two_steps = step_is_an_end(trace, step.now);
            if sets && !lets_off_in_two_steps {
                return Err(format!(
                    "{bytes:02x?} at {:?} while the guard acts",
                    step.now
                ));
            }
        }
    }
    Ok(())
}

/// Whether the ride was over by then.
fn step_is_an_end(trace: &Trace, now: stillroad::time::Instant) -> bool {
    trace.end().is_some_and(|end| end <= now)
}

/// The recovery load of the campaign's sessions is 80 W, and a meter may put a tenth on it.
const RECOVERY: i16 = 88;

/// From the loss of a heart rate that limited the load until it is back, or the rider goes on without it, no target in
/// watts goes up beyond a recovery's, whatever block comes. Of targets that the trainer refuses none stands: what is under
/// the one that it last took is no rise, unless a release was written since, whatever became of that.
pub fn nothing_rises_on_a_lost_heart_rate(trace: &Trace) -> Result<(), String> {
    let mut lost = false;
    let mut last: Option<i16> = None;
    let mut taken: i16 = 0;
    for step in &trace.steps {
        for kept in &step.kept {
            if let Kept::Event(event) = kept {
                match event.what {
                    "target" => taken = watts_in(&event.detail),
                    "released" | "control-lost" | "link-lost" => taken = 0,
                    "heart-lost" => lost = true,
                    "heart-back" | "heart-waived" | "end" | "start" => lost = false,
                    _ => {}
                }
            }
        }
        for bytes in control_writes(step) {
            let watts = watts_of(bytes);
            if let (true, Some(last), Some(watts)) = (lost, last, watts)
                && watts > last.max(taken).max(RECOVERY)
            {
                return Err(format!(
                    "{last} W, and {taken} W taken, raised to {watts} W at {:?}",
                    step.now
                ));
            }
            if watts.is_some_and(|watts| watts <= LEAST) {
                taken = 0;
            }
            // After a level or a slope nobody knows which watts stand.
            last = if matches!(bytes[0], 0x04 | 0x11) {
                None
            } else {
                watts.or(last)
            };
        }
    }
    Ok(())
}

/// Of "192 W"; 0 of a level or a slope.
fn watts_in(detail: &str) -> i16 {
    let watts = detail
        .strip_suffix(" W")
        .and_then(|watts| watts.parse().ok());
    watts.unwrap_or(0)
}
