//! The figures of the room: what they show, over which time they are averaged, and what stands beside them.

use super::chart;
use crate::engine::snapshot::{InkPoint, Snapshot};
use crate::plan::Block;
use crate::ride::Reading;
use crate::ride::reading::FRESH_FOR;
use crate::time::Span;
use crate::ui::widgets::figure::Figure;
use crate::ui::words;
use crate::units::Watts;

/// Averaged figures are renewed twice a second: often enough to be followed, seldom enough to be read.
const RENEWED: Span = Span::from_millis(500);

/// The moment that averaged figures stand for.
fn renewed(session: Span) -> Span {
    Span(session.0 / RENEWED.0 * RENEWED.0)
}

/// How long ago a value last came, in words, from the ink: a value is inked until it is stale.
fn age(ink: &[InkPoint], session: Span, known: impl Fn(&InkPoint) -> bool) -> Option<String> {
    let last = ink.iter().rev().find(|point| known(point))?;
    let ago = session.less(last.at) + FRESH_FOR;
    Some(say!("{seconds} s ago", seconds = ago.whole_seconds()))
}

/// Cadence, the mean of two seconds.
pub(super) fn cadence(snapshot: &Snapshot, block: Option<&Block>, session: Span) -> Figure {
    let mean = chart::mean(
        &snapshot.ink,
        renewed(session),
        chart::CADENCE_OVER,
        |point| point.cadence.map(|rpm| rpm.0),
    )
    .filter(|_| snapshot.mode.runs());
    let mut figure = Figure::of(
        entry!("Cadence"),
        snapshot.cadence,
        |rpm| format!("{:.0}", mean.unwrap_or(rpm.0)),
        "rpm",
        "",
    );
    if let Reading::Stale(_) = snapshot.cadence
        && let Some(age) = age(&snapshot.ink, session, |point| point.cadence.is_some())
    {
        figure.note = age;
    }
    if snapshot.cadence == Reading::NeverSeen
        && let Some(band) = block.and_then(|block| block.cadence)
    {
        figure.unit = format!("{} rpm", words::band(band));
    }
    figure
}

/// Cadence as one of the smaller figures, with its band in words.
pub(super) fn against_band(mut figure: Figure, block: Option<&Block>) -> Figure {
    if figure.known
        && let Some(band) = block.and_then(|block| block.cadence)
    {
        figure.note = words::band(band);
    }
    figure
}

/// Heart rate, as the strap sends it: it is a mean of some beats already.
pub(super) fn heart(snapshot: &Snapshot) -> Figure {
    let rider = snapshot.rider.as_deref();
    let note = match rider.map(|rider| (rider.heart_rate_ceiling, rider.max_heart_rate)) {
        Some((Some(ceiling), _)) => say!("limit {bpm:.0}", bpm = ceiling.0),
        Some((None, Some(most))) => say!("of {bpm:.0}", bpm = most.0),
        _ => String::new(),
    };
    Figure::of(
        entry!("Heart rate"),
        snapshot.heart_rate,
        |bpm| format!("{:.0}", bpm.0),
        "bpm",
        note,
    )
}

/// Power, the mean of three seconds: the same mean as the strip's ink.
pub(super) fn watts(snapshot: &Snapshot, session: Span) -> Figure {
    // A single fresh value serves until there is any ink.
    let mean = chart::mean(
        &snapshot.ink,
        renewed(session),
        chart::POWER_OVER,
        |point| point.power.map(|watts| watts.0),
    )
    .filter(|_| snapshot.mode.runs());
    let show = |newest: Watts| format!("{:.0}", mean.unwrap_or(newest.0) + 0.0);
    let eased = snapshot.going.map_or(1.0, |going| going.ease.factor);
    let note = match snapshot.lane {
        Some(_) if eased < 0.995 => say!("eased {share:.0} %", share = (1.0 - eased) * 100.0),
        Some(lane) => say!("lane {watts:.0}", watts = lane.0),
        None => word!("3 s mean").to_owned(),
    };
    let mut figure = Figure::of(entry!("Power"), snapshot.power, show, "W", note);
    if let Reading::Stale(_) = snapshot.power
        && let Some(age) = age(&snapshot.ink, session, |point| point.power.is_some())
    {
        figure.note = age;
    }
    figure
}
