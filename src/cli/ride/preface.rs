//! What is said before a ride on the command line: for whom, what to look at in the session, what to mind.

use crate::engine::Choice;
use crate::text::word;
use crate::toml_table::Problem;
use crate::ui::words::{BEFORE_RIDING, STOP_SIGNS};

/// The lines before a ride. The cautions are for a machine with somebody on it.
pub(super) fn preface(choice: &Choice, warnings: &[Problem], real: bool) -> String {
    let rider = &choice.rider;
    let mut text = say!(
        "Rider: {name}, threshold {threshold}, held to {cap} at most, {sprint_cap} in sprints.",
        name = rider.called(),
        threshold = rider.threshold,
        cap = rider.power_cap,
        sprint_cap = rider.sprint_cap
    );
    if !rider.unconfirmed.is_empty() {
        let keys = rider.unconfirmed.join(", ");
        text.push(' ');
        text += &say!("Check me: {keys}.", keys);
    }
    text.push('\n');
    for warning in warnings {
        text += &format!("{warning}\n");
    }
    if real {
        // The window has a key for the brake; here it is the interrupt.
        for caution in &BEFORE_RIDING[..3] {
            text += word(caution);
            text.push('\n');
        }
        text += word(STOP_SIGNS);
        text.push('\n');
        text += word!("Ctrl-C lets the brake off and ends the ride.");
        text.push('\n');
    }
    text
}
