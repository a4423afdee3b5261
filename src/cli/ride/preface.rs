//! What is said before a ride on the command line: for whom, what to look at in the session, what to mind.

use crate::engine::Choice;
use crate::toml_table::Problem;
use crate::ui::words::{BEFORE_RIDING, STOP_SIGNS};

/// The lines before a ride. The cautions are for a machine with somebody on it.
pub(super) fn preface(choice: &Choice, warnings: &[Problem], real: bool) -> String {
    let rider = &choice.rider;
    let mut text = format!(
        "Rider: {}, threshold {}, held to {} at most, {} in sprints.",
        rider.name, rider.threshold, rider.power_cap, rider.sprint_cap
    );
    if !rider.unconfirmed.is_empty() {
        text += &format!(" Check me: {}.", rider.unconfirmed.join(", "));
    }
    text.push('\n');
    for warning in warnings {
        text += &format!("{warning}\n");
    }
    if real {
        // The window has a key for the brake; here it is the interrupt.
        for caution in &BEFORE_RIDING[..3] {
            text += caution;
            text.push('\n');
        }
        text += STOP_SIGNS;
        text += "\nCtrl-C lets the brake off and ends the ride.\n";
    }
    text
}
