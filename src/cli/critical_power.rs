//! `stillroad critical-power`: critical power and W′ from efforts that are named as maximal.

use std::collections::BTreeSet;
use std::path::PathBuf;

use clap::Args;
use serde_json::json;

use super::review::folder;
use crate::review::over::critical_power::{CriticalPower, Effort, Found, critical_power};
use crate::review::words::{clock, number, plain};
use crate::review::{Asked, blocks, recoveries, series};
use crate::store::{read_ride, ride_list};
use crate::text::figure;

/// The options of critical power.
#[derive(Args, Clone, Debug)]
pub struct Options {
    /// Maximal efforts, each a recording and the number of the block: FOLDER:4. To name one is to say that it was maximal
    #[arg(required = true, value_name = "RECORDING:BLOCK")]
    efforts: Vec<String>,
    /// As JSON
    #[arg(long)]
    pub(super) json: bool,
}

/// Finds it.
///
/// # Errors
/// A sentence where an effort cannot be found, or where no critical power fits.
pub fn run(options: &Options) -> Result<String, String> {
    let mut efforts = Vec::new();
    let mut names = Vec::new();
    let mut riders = BTreeSet::new();
    let mut taken = BTreeSet::new();
    for named in &options.efforts {
        let Named {
            name,
            effort,
            rider,
            place,
        } = effort(named)?;
        riders.insert(rider);
        if riders.len() > 1 {
            return Err(word!(
                "The efforts are of different riders: critical power is one rider's."
            )
            .to_owned());
        }
        if !taken.insert(place) {
            return Err(say!(
                "{named} is named twice: an effort counts once.",
                named
            ));
        }
        names.push(name);
        efforts.push(effort);
    }
    let found = critical_power(&efforts).map_err(|refusal| refusal.to_string())?;
    if options.json {
        return Ok(format!(
            "{:#}\n",
            json!({ "version": 1, "critical_power": found })
        ));
    }
    Ok(told(&names, &found))
}

/// An effort as it was named.
struct Named {
    name: String,
    effort: Effort,
    rider: String,
    place: (PathBuf, u32),
}

fn effort(named: &str) -> Result<Named, String> {
    let wrong = || {
        say!(
            "{named} is no recording with the number of a block behind a colon, as FOLDER:4.",
            named
        )
    };
    let (place, number) = named.rsplit_once(':').ok_or_else(wrong)?;
    let number: u32 = number.parse().map_err(|_| wrong())?;
    let folder = folder(&PathBuf::from(place));
    let ride = read_ride(&folder).map_err(|error| error.to_string())?;
    let recording = ride_list::recording(&ride, &[]);
    let blocks = blocks::blocks(&recording, &Asked::of(&ride.start));
    let block = blocks.iter().find(|block| block.block == number);
    let block = block.ok_or_else(|| {
        say!(
            "There is no block {number} in {place}: stillroad review tells which blocks were ridden.",
            number,
            place
        )
    })?;
    let rows = recoveries::inside(&ride.rows, block);
    let broken = rows.windows(2).any(|pair| {
        pair[1].ridden_s != pair[0].ridden_s + 1 || series::stood_ms(&pair[0], &pair[1]) > 3_000
    });
    if broken || blocks.iter().filter(|block| block.block == number).count() > 1 {
        return Err(say!(
            "The clock stood in block {number} of {place}, or seconds of it are missing: it was no effort in one piece. \
             Leave it out.",
            number,
            place
        ));
    }
    let power_w = block.power_w.ok_or_else(|| {
        say!(
            "Power was not measured in block {number} of {place}, so it tells nothing of critical power.",
            number,
            place
        )
    })?;
    if u64::from(block.power_s) < block.ridden_s {
        return Err(say!(
            "Power is missing for {seconds} s of block {number} of {place}, so its mean is not that of the effort. Leave it \
             out.",
            seconds = block.ridden_s - u64::from(block.power_s),
            number,
            place
        ));
    }
    let effort = Effort {
        seconds: block.ridden_s as f64,
        power_w,
    };
    Ok(Named {
        name: plain(&block.title()),
        effort,
        rider: ride.start.rider.clone(),
        place: (folder, number),
    })
}

fn told(names: &[String], found: &CriticalPower) -> String {
    let mut lines = vec![word!("Maximal efforts, as they were named:").to_owned()];
    for (name, effort) in names.iter().zip(&found.efforts) {
        let effort = say!(
            "{time} at {watts} W",
            time = clock(effort.seconds),
            watts = number(Some(effort.power_w), 0)
        );
        lines.push(format!("  {name}: {effort}"));
    }
    lines.push(String::new());
    lines.push(say!(
        "By work over time: {found}.",
        found = words(&found.by_work)
    ));
    lines.push(match &found.by_time {
        Some(found) => say!("By time over power: {found}.", found = words(found)),
        None => word!("By time over power: the search did not settle.").to_owned(),
    });
    lines.push(
        word!(
            "Two-parameter models (Monod & Scherrer 1965; Hill 1993); estimates, and right only as far as the efforts were \
             maximal. Critical power is not threshold power, and usually some per cent above it."
        )
        .to_owned(),
    );
    lines.join("\n") + "\n"
}

fn words(found: &Found) -> String {
    let error = |error: Option<f64>, scale: f64, decimals: usize| {
        error.map_or_else(String::new, |error| {
            format!(" ± {}", figure(&number(Some(error / scale), decimals)))
        })
    };
    say!(
        "critical power {watts}{watts_doubt} W, W′ {kilojoules}{kilojoules_doubt} kJ",
        watts = number(Some(found.critical_power_w), 0),
        watts_doubt = error(found.critical_power_error_w, 1.0, 0),
        kilojoules = number(Some(found.w_prime_j / 1000.0), 1),
        kilojoules_doubt = error(found.w_prime_error_j, 1000.0, 1)
    )
}
