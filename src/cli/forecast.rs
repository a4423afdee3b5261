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
    json: bool,
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
    let mut text = format!(
        "{session}, {length}, for {}: threshold {}, W′ {:.1} kJ.",
        rider.name,
        rider.threshold,
        rider.w_prime.0 / 1000.0
    );
    if !rider.unconfirmed.is_empty() {
        text += &format!(" Check me: {}.", rider.unconfirmed.join(", "));
    }
    text += "\nAll of this is an estimate; the W′ balance predicts exhaustion poorly.\n\n";
    text += &format!(
        "As the session asks:          {}, {:.0} kJ of work\n",
        lowest(reckoned.lowest.as_ref()),
        reckoned.work_kj
    );
    text += &format!(
        "As a practice rider rides it: {}, {:.0} kJ of work",
        lowest(ridden.lowest.as_ref()),
        ridden.work_kj
    );
    if let Some((peak, at)) = ridden.heart_peak {
        let at = Span::from_seconds(at);
        text += &format!(", heart rate up to {peak:.0} bpm at {at}");
        if rider.max_heart_rate.is_none() {
            text += " (of a heart with 185 at most: yours is not known)";
        }
    }
    text.push('\n');
    if reckoned.without_watts_s > 0 {
        text += &format!(
            "{} of it have no figure in watts and are not reckoned as W′.\n",
            Span::from_seconds(reckoned.without_watts_s)
        );
    }
    if reckoned.beyond.is_empty() {
        text += "No block is beyond this rider.\n";
    }
    for one in &reckoned.beyond {
        text += &format!(
            "Beyond this rider: {}, which would take {:.1} kJ more than there is by {}.\n",
            one.told(),
            -one.left_j / 1000.0,
            Span::from_seconds(one.at_s)
        );
        for way in &one.ways {
            text += &format!("  Possible {way}.\n");
        }
    }
    text
}

pub(super) fn lowest(lowest: Option<&Lowest>) -> String {
    match lowest {
        None => "W′ not touched".to_owned(),
        Some(lowest) if lowest.share > 0.9995 => "W′ stays full".to_owned(),
        Some(lowest) => format!(
            "W′ down to {:.1} kJ ({:.0} %) at {}, in {}",
            lowest.left_j / 1000.0,
            lowest.share * 100.0,
            Span::from_seconds(lowest.at_s),
            lowest.name
        ),
    }
}
