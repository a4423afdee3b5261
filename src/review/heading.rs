//! What stands over a review: its day, who rode, and how.

use super::Review;
use super::words::{number, plain};
use crate::ride::RideMode;
use crate::rider::called;

/// Who sets the load, as it is told within a sentence.
pub(in crate::review) fn mode(mode: RideMode) -> &'static str {
    match mode {
        RideMode::TargetPower => word!("target-power"),
        RideMode::EffortOnly => word!("effort-only"),
    }
}

/// The months, January first.
const MONTHS: [&str; 12] = [
    entry!("January"),
    entry!("February"),
    entry!("March"),
    entry!("April"),
    entry!("May"),
    entry!("June"),
    entry!("July"),
    entry!("August"),
    entry!("September"),
    entry!("October"),
    entry!("November"),
    entry!("December"),
];

/// A day as it is written: "24 November 2026".
fn day(date: jiff::civil::Date) -> String {
    let place = usize::try_from(date.month()).unwrap_or(1).saturating_sub(1);
    let month = MONTHS
        .get(place)
        .map_or("", |month| crate::text::word(month));
    say!(
        "{day} {month} {year}",
        day = date.day(),
        month,
        year = date.year()
    )
}

/// Name, day and rider, in a line.
pub fn heading(review: &Review) -> String {
    let day = review.started.parse::<jiff::Timestamp>().map_or_else(
        |_| review.started.clone(),
        |at| {
            let date = jiff::tz::TimeZone::UTC.to_datetime(at).date();
            format!("{}, {}", day(date), at.strftime("%H:%M UTC"))
        },
    );
    let model = if review.simulated {
        word!(" Ridden with practice devices: the figures are a model's.")
    } else {
        ""
    };
    say!(
        "{day}, in {mode} mode. Rider: {rider}, threshold {watts} W.{model}",
        day,
        mode = mode(review.mode),
        rider = plain(called(&review.rider)),
        watts = number(Some(review.threshold_w), 0),
        model
    )
}
