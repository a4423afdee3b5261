//! `stillroad forecast`: what a session would ask of this rider, before it is ridden.

use std::path::PathBuf;
use std::sync::Arc;

use clap::Args;
use serde_json::json;

use super::files;
use super::fit::{WishOptions, told};
use crate::forecast::{self, Lowest, Reckoned, Ridden};
use crate::rider::Rider;
use crate::time::Span;

/// The options of a forecast.
#[derive(Args, Clone, Debug)]
pub struct Options {
    /// The session: a file, or the name of a built-in session or of one in your folder
    #[arg(value_name = "SESSION")]
    session: PathBuf,
    #[command(flatten)]
    wish: WishOptions,
    /// The rider's file; if left out the first in the riders' folder (see `stillroad where`), else cautious figures
    #[arg(long, value_name = "FILE")]
    rider: Option<PathBuf>,
    /// As JSON
    #[arg(long)]
    pub(super) json: bool,
}

/// Makes the forecast and tells it.
///
/// # Errors
/// A sentence where session or rider cannot be read, or the session not be fitted.
pub fn run(options: &Options) -> Result<String, String> {
    let (written, _) = files::session(&options.session)?;
    let rider = Arc::new(files::rider(options.rider.as_deref())?);
    let fitted = options.wish.fitted(&written)?;
    let changed = (!fitted.changes.is_empty()).then(|| told(&written, &fitted));
    let plan = Arc::new(fitted.plan);
    let reckoned = forecast::reckon(&plan, &rider);
    let ridden = forecast::ride(&plan, &rider)?;
    if options.json {
        let whole = json!({
            "session": plan.name,
            "whole_s": plan.length().seconds(),
            "changes": fitted.changes,
            "rider": {
                "name": rider.name,
                "threshold_w": rider.threshold.0,
                "w_prime_j": rider.w_prime.0,
                "check_me": rider.unconfirmed,
            },
            "asked": reckoned,
            "ridden": ridden,
        });
        return Ok(format!("{whole:#}"));
    }
    let mut text = changed.unwrap_or_default();
    text += &words(&plan.name, plan.length(), &rider, &reckoned, &ridden);
    Ok(text)
}

fn words(
    session: &str,
    length: Span,
    rider: &Rider,
    reckoned: &Reckoned,
    ridden: &Ridden,
) -> String {
    let mut text = say!(
        "{session}, {length}, for {rider}: threshold {threshold}, W′ {kilojoules:.1} kJ.",
        session,
        length,
        rider = rider.called(),
        threshold = rider.threshold,
        kilojoules = rider.w_prime.0 / 1000.0
    );
    if !rider.unconfirmed.is_empty() {
        let keys = rider.unconfirmed.join(", ");
        text.push(' ');
        text += &say!("Check me: {keys}.", keys);
    }
    let mut lines = vec![text];
    lines.push(
        word!("All of this is an estimate; the W′ balance predicts exhaustion poorly.").to_owned(),
    );
    lines.push(String::new());
    lines.push(say!(
        "As the session asks:          {lowest}, {work:.0} kJ of work",
        lowest = lowest(reckoned.lowest.as_ref()),
        work = reckoned.work_kj
    ));
    let mut text = say!(
        "As a practice rider rides it: {lowest}, {work:.0} kJ of work",
        lowest = lowest(ridden.lowest.as_ref()),
        work = ridden.work_kj
    );
    if let Some((peak, at)) = ridden.heart_peak {
        let at = Span::from_seconds(at);
        text += &say!(", heart rate up to {peak:.0} bpm at {at}", peak, at);
        if rider.max_heart_rate.is_none() {
            text.push(' ');
            text += word!("(of a heart with 185 at most: yours is not known)");
        }
    }
    lines.push(text);
    if reckoned.without_watts_s > 0 {
        lines.push(say!(
            "{time} of it have no figure in watts and are not reckoned as W′.",
            time = Span::from_seconds(reckoned.without_watts_s)
        ));
    }
    if reckoned.beyond.is_empty() {
        lines.push(word!("No block is beyond this rider.").to_owned());
    }
    for one in &reckoned.beyond {
        lines.push(say!(
            "Beyond this rider: {block}, which would take {kilojoules:.1} kJ more than there is by {time}.",
            block = one.told(),
            kilojoules = -one.left_j / 1000.0,
            time = Span::from_seconds(one.at_s)
        ));
        for way in &one.ways {
            let possible = say!("Possible {way}.", way = crate::text::translated(way));
            lines.push(format!("  {possible}"));
        }
    }
    lines.join("\n") + "\n"
}

pub(super) fn lowest(lowest: Option<&Lowest>) -> String {
    match lowest {
        None => word!("W′ not touched").to_owned(),
        Some(lowest) if lowest.share > 0.9995 => word!("W′ stays full").to_owned(),
        Some(lowest) => say!(
            "W′ down to {kilojoules:.1} kJ ({per_cent:.0} %) at {time}, in {block}",
            kilojoules = lowest.left_j / 1000.0,
            per_cent = lowest.share * 100.0,
            time = Span::from_seconds(lowest.at_s),
            block = lowest.name
        ),
    }
}
