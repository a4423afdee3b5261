//! What happened, in sentences: no praise, no blame, and what is missing is said.

use super::Review;
use super::blocks::BlockResult;
use super::repeats::{Moved, SetResult};
use super::sprints::Sprints;
use super::whole::Whole;
use crate::plan::Kind;
use crate::time::Span;

pub use super::heading::heading;

/// What stands where a figure is not known.
pub const DASH: &str = "–";

/// A length of time as a clock shows it.
pub fn clock(seconds: f64) -> String {
    Span::from_seconds_f64(seconds.round()).to_string()
}

/// A number with so many decimals, or a dash; a rounded −0 is 0.
pub fn number(value: Option<f64>, decimals: usize) -> String {
    value.map_or_else(
        || DASH.to_owned(),
        |value| {
            let scale = 10_f64.powi(decimals as i32);
            let text = format!("{:.decimals$}", (value * scale).round() / scale + 0.0);
            crate::text::figure(&text).replace('-', "−")
        },
    )
}

/// A change, with its sign; one that is shown as nothing is 0.
pub fn change(value: Option<f64>, decimals: usize) -> String {
    let text = number(value, decimals);
    let figures = text.trim_start_matches('−');
    match value {
        Some(_)
            if figures
                .chars()
                .all(|letter| matches!(letter, '0' | '.' | ',')) =>
        {
            "0".to_owned()
        }
        Some(value) if value > 0.0 => format!("+{text}"),
        _ => text,
    }
}

/// A share as per cent, or a dash.
pub fn per_cent(share: Option<f64>, decimals: usize) -> String {
    share.map_or_else(
        || DASH.to_owned(),
        |share| format!("{} %", number(Some(share * 100.0), decimals)),
    )
}

/// Text from a file without anything that a terminal or a page could take for more than text.
pub fn plain(text: &str) -> String {
    text.chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect()
}

/// How often: "1 time", "2 times".
fn times(count: u64) -> String {
    match count {
        1 => word!("1 time").to_owned(),
        _ => say!("{count} times", count),
    }
}

/// What happened, one paragraph a line.
pub fn sentences(review: &Review) -> Vec<String> {
    let mut said = vec![ending(&review.ride)];
    said.extend(
        review
            .fitted
            .as_ref()
            .map(super::fitted::FittedResult::sentence),
    );
    said.extend(work(&review.ride));
    said.extend(lane(review));
    for set in review.sets.iter().filter(|set| set.kind == Kind::Hold) {
        said.extend(hold_set(set));
    }
    let alone = |block: &&BlockResult| block.kind == Kind::Hold && block.of.is_none_or(|of| of < 2);
    let holds: Vec<&BlockResult> = review.blocks.iter().filter(alone).collect();
    // A session of many different holds is told by its table.
    if holds.len() <= 3 {
        said.extend(holds.into_iter().filter_map(hold));
    }
    said.extend(long_blocks(review));
    said.extend(helps(review));
    said.extend(sprints(&review.sprints));
    said.extend(recoveries(review));
    said.extend(ratings(review));
    said
}

fn ending(ride: &Whole) -> String {
    let ridden = clock(ride.ridden_s as f64);
    let of = ride.written_s.map_or_else(String::new, |written| {
        say!(" of a session of {length}", length = clock(written))
    });
    let mut text = match ride.finish.as_deref() {
        Some("completed") => say!("Ridden to the end: {ridden}{of}.", ridden, of),
        Some("by-rider") => say!("Ended by the rider after {ridden}{of}.", ridden, of),
        Some("closed") => say!("Ended with the program after {ridden}{of}.", ridden, of),
        _ => say!(
            "The recording breaks off after {ridden}{of}: the program was ended from outside.",
            ridden,
            of
        ),
    };
    let count: u64 = ride.pauses.iter().map(|stood| u64::from(stood.count)).sum();
    if count > 0 {
        let known: Option<f64> = ride.pauses.iter().map(|stood| stood.seconds).sum();
        let long = known.map_or_else(String::new, |sum| {
            say!(", {sum} altogether", sum = clock(sum))
        });
        let causes: Vec<String> = ride
            .pauses
            .iter()
            .map(|stood| format!("{} {}", stood.count, cause(&stood.cause)))
            .collect();
        text += &say!(
            " The clock stood {times}{long}: {causes}.",
            times = times(count),
            long,
            causes = causes.join(", ")
        );
    }
    text
}

fn cause(key: &str) -> &str {
    match key {
        "rider" => word!("by the rider"),
        "pedals-stopped" => word!("with the pedals still"),
        "gap" => word!("while the computer slept or was held up"),
        "trainer" => word!("at the trainer's own button"),
        other => other,
    }
}

fn work(ride: &Whole) -> Option<String> {
    let (work, energy, power) = (ride.work_j?, ride.food_energy?, ride.power.mean?);
    Some(say!(
        "{work} kJ of work at {power} W on average, unevenness {unevenness}. That is about {kcal} kcal of food if {share} of it \
         became work ({least} to {most} kcal at 25 to 20 %).",
        work = number(Some(work / 1000.0), 0),
        power = number(Some(power), 0),
        unevenness = per_cent(ride.unevenness, 0),
        kcal = number(Some(energy.kcal), 0),
        share = per_cent(Some(energy.efficiency), 0),
        least = number(Some(energy.least_kcal), 0),
        most = number(Some(energy.most_kcal), 0)
    ))
}

fn lane(review: &Review) -> Option<String> {
    let sum = |of: fn(&BlockResult) -> u32| review.blocks.iter().map(of).sum::<u32>();
    let compared = sum(|block| block.fitted.compared_s);
    let inside = sum(|block| block.fitted.in_lane_s);
    if compared == 0 {
        return None;
    }
    let share = f64::from(inside) / f64::from(compared);
    let mut text = say!(
        "Power lay in the lane for {inside} of the {compared} in which both are known ({share}).",
        inside = clock(f64::from(inside)),
        compared = clock(f64::from(compared)),
        share = per_cent(Some(share), 0)
    );
    let deviation = &review.ride.deviation;
    let laid = deviation.off_by_told_s + deviation.off_by_brake_s + deviation.off_by_legs_s;
    let parts = [
        (
            deviation.off_by_told_s,
            word!("because the brake was told something else (built up, eased, capped)"),
        ),
        (
            deviation.off_by_brake_s,
            word!("while the brake was on its way"),
        ),
        (deviation.off_by_legs_s, word!("by the legs")),
        (
            deviation.off_lane_s.saturating_sub(laid),
            word!("not known whose doing, since the brake's answer was not known"),
        ),
    ];
    let said: Vec<String> = parts
        .iter()
        .filter(|(seconds, _)| *seconds > 0)
        .map(|(seconds, why)| format!("{} {why}", clock(f64::from(*seconds))))
        .collect();
    if !said.is_empty() {
        text += &say!(" Off it: {parts}.", parts = said.join(", "));
    }
    if review
        .blocks
        .iter()
        .any(|block| !block.held && block.fitted.compared_s > 0)
    {
        text += word!(
            " Where the brake held no watts they were the rider's to make, and the lane is wider (9 % for 5 %)."
        );
    }
    Some(text)
}

fn hold(block: &BlockResult) -> Option<String> {
    let mut parts = Vec::new();
    if let Some(power) = block.power_w {
        let lane = block.fitted.mean_w.map_or_else(String::new, |lane| {
            say!(" for a lane at {watts} W", watts = number(Some(lane), 0))
        });
        parts.push(format!("{} W{lane}", number(Some(power), 0)));
    }
    if let Some(settle) = block.settle_s {
        parts.push(say!("settled in the lane after {settle} s", settle));
    }
    parts.extend(faded(block));
    (!parts.is_empty()).then(|| {
        format!(
            "{} ({}): {}.",
            plain(&block.title()),
            clock(block.ridden_s as f64),
            parts.join(", ")
        )
    })
}

/// From its first to its last third: where the brake held, cadence, torque and heart rate tell; where the rider made the
/// watts, the watts do.
fn faded(block: &BlockResult) -> Vec<String> {
    let Some(fade) = block.fade else {
        return Vec::new();
    };
    let figures = if block.held {
        vec![
            (word!("cadence"), fade.cadence_rpm, 0, "rpm"),
            (word!("torque"), fade.torque_nm, 1, "Nm"),
            (word!("heart rate"), fade.heart_rate_bpm, 0, "bpm"),
        ]
    } else {
        vec![
            (word!("power"), fade.power_w, 0, "W"),
            (word!("heart rate"), fade.heart_rate_bpm, 0, "bpm"),
        ]
    };
    let known: Vec<String> = figures
        .into_iter()
        .filter(|(_, value, ..)| value.is_some())
        .map(|(what, value, decimals, unit)| format!("{what} {} {unit}", change(value, decimals)))
        .collect();
    if known.is_empty() {
        return known;
    }
    vec![say!(
        "from first to last third {changes}",
        changes = known.join(", ")
    )]
}

fn hold_set(set: &SetResult) -> Option<String> {
    let part = if set.in_part.is_empty() {
        String::new()
    } else {
        say!(", {count} in part", count = set.in_part.len())
    };
    let mut text = say!(
        "{name}: {count} of {of} ridden whole{part}.",
        name = plain(&set.name),
        count = set.repeats.len(),
        of = set.of,
        part
    );
    let told: &[(&str, usize)] = if set.held {
        &[
            (entry!("cadence"), 0),
            (entry!("heart rate at end"), 0),
            (entry!("rating"), 1),
        ]
    } else {
        &[
            (entry!("power"), 0),
            (entry!("cadence"), 0),
            (entry!("heart rate at end"), 0),
            (entry!("rating"), 1),
        ]
    };
    let moved: Vec<String> = told
        .iter()
        .filter_map(|(name, decimals)| from_to(set.figure(name)?, *decimals))
        .collect();
    if !moved.is_empty() {
        text += &say!(
            " From the first to the last: {changes}.",
            changes = moved.join(", ")
        );
    }
    Some(text)
}

fn from_to(moved: &Moved, decimals: usize) -> Option<String> {
    let (first, last) = (
        moved.values.first()?.as_ref()?,
        moved.values.last()?.as_ref()?,
    );
    moved.change?;
    let unit = if moved.unit.is_empty() {
        String::new()
    } else {
        format!(" {}", moved.unit)
    };
    Some(format!(
        "{} {} {} {}{unit}",
        crate::text::word(moved.figure),
        number(Some(*first), decimals),
        word!("to" # "a change"),
        number(Some(*last), decimals)
    ))
}

fn long_blocks(review: &Review) -> Vec<String> {
    let of = |block: &BlockResult| {
        let rise = block.heart.rise_bpm_per_10_min?;
        Some(say!(
            "{name}: at steady power heart rate went up by {rise} bpm in ten minutes.",
            name = plain(&block.title()),
            rise = number(Some(rise), 1)
        ))
    };
    review.blocks.iter().filter_map(of).collect()
}

fn helps(review: &Review) -> Option<String> {
    let sum = |of: fn(&BlockResult) -> u32| {
        review
            .blocks
            .iter()
            .map(|block| u64::from(of(block)))
            .sum::<u64>()
    };
    let told = [
        (
            sum(|b| b.helps.ease_downs),
            word!("eased by the program because cadence or heart rate said so"),
        ),
        (
            sum(|b| b.helps.eased_by_hand),
            word!("eased by hand for a block"),
        ),
        (sum(|b| b.helps.trims), word!("trimmed")),
        (
            sum(|b| b.helps.guards),
            word!("let off because the legs were stalling"),
        ),
        (sum(|b| b.helps.brake_off), word!("let off by hand")),
    ];
    let said: Vec<String> = told
        .iter()
        .filter(|(count, _)| *count > 0)
        .map(|(count, what)| format!("{} {what}", times(*count)))
        .collect();
    (!said.is_empty()).then(|| say!("The load was {helps}.", helps = said.join(", ")))
}

fn sprints(sprints: &Sprints) -> Option<String> {
    let peak = |sprint: &&super::sprints::Sprint| sprint.peak_w.is_some();
    let known: Vec<_> = sprints.each.iter().filter(peak).collect();
    let best = known
        .iter()
        .max_by(|a, b| a.peak_w.unwrap_or(0.0).total_cmp(&b.peak_w.unwrap_or(0.0)))?;
    let count = match sprints.each.len() {
        1 => word!("1 sprint").to_owned(),
        count => say!("{count} sprints", count),
    };
    let mut text = say!(
        "{sprints}: the best second was {peak} W, {after} s after its start, in {name} (values {apart} s apart).",
        sprints = count,
        peak = number(best.peak_w, 0),
        after = number(best.to_peak_s, 1),
        name = plain(&best.name),
        apart = number(Some(best.resolution_s), 2)
    );
    if sprints.decrement.is_some() {
        text += &say!(
            " Of their mean powers the worst lay {worst} under the best, all of them together {all} (decrement).",
            worst = per_cent(sprints.fatigue_index, 1),
            all = per_cent(sprints.decrement, 1)
        );
    }
    Some(text)
}

fn recoveries(review: &Review) -> Option<String> {
    let falls: Vec<f64> = review
        .recoveries
        .iter()
        .filter_map(|one| one.fall_bpm)
        .collect();
    let (least, most) = (
        falls.iter().copied().reduce(f64::min)?,
        falls.iter().copied().reduce(f64::max)?,
    );
    let (most, least) = (change(Some(-most), 0), change(Some(-least), 0));
    let mut text = match falls.len() {
        1 => say!(
            "In the first minute of 1 recovery heart rate changed by {most} to {least} bpm.",
            most,
            least
        ),
        count => say!(
            "In the first minute of {count} recoveries heart rate changed by {most} to {least} bpm.",
            count,
            most,
            least
        ),
    };
    let last = review
        .recoveries
        .iter()
        .rev()
        .find(|one| one.like_block.is_some());
    if let Some(last) = last {
        let first = review
            .recoveries
            .iter()
            .find(|one| Some(one.block) == last.like_block);
        if let Some(first) = first {
            text += &say!(
                " At an equal load: {one} bpm in {first}, {other} bpm in {last}.",
                one = change(first.fall_bpm.map(|fall| -fall), 0),
                first = plain(&first.name),
                other = change(last.fall_bpm.map(|fall| -fall), 0),
                last = plain(&last.name)
            );
        }
    } else if falls.len() > 1 {
        text +=
            word!(" No two of them were ridden at an equal load, so the falls are not compared.");
    }
    Some(text)
}

fn ratings(review: &Review) -> Vec<String> {
    let mut said = Vec::new();
    let both = |block: &BlockResult| {
        let (rating, effort) = (block.rating?, block.effort?);
        Some(say!(
            "{name} {rating} (planned {effort})",
            name = plain(&block.title()),
            rating = number(Some(rating), 0),
            effort = number(Some(effort), 1)
        ))
    };
    let rated: Vec<String> = review.blocks.iter().filter_map(both).collect();
    if !rated.is_empty() {
        said.push(say!(
            "Rated out of ten: {ratings}.",
            ratings = rated.join(", ")
        ));
    }
    if let (Some(rating), Some(load)) = (review.ride.rating, review.ride.load) {
        said.push(say!(
            "The whole session was rated {rating} of ten: a load of {load} (rating × minutes, on this program's own scale).",
            rating = number(Some(rating), 0),
            load = number(Some(load), 0)
        ));
    }
    said
}
