//! The tables of a review, as cells: the command line and the page draw the same ones.

use super::Review;
use super::blocks::BlockResult;
use super::layers::Layer;
use super::repeats::SetResult;
use super::said;
use super::series::Channel;
use super::words::{DASH, change, clock, number, per_cent, plain};
use crate::record::cell::{Sort, Value};

/// A table as it is shown.
#[derive(Clone, Debug, PartialEq)]
pub struct Shown {
    /// What it is, over it.
    pub title: String,
    /// The heads of its columns.
    pub heads: Vec<String>,
    /// Its rows, as many cells each as there are heads.
    pub rows: Vec<Vec<String>>,
    /// What is to be said of it.
    pub note: &'static str,
    /// The columns that hold text and stand to the left; the others hold figures.
    pub left: Vec<usize>,
}

/// Every table that has a row.
pub fn tables(review: &Review) -> Vec<Shown> {
    let mut tables = vec![blocks(review), layers(review)];
    let sets = review.sets.iter().filter(|set| set.repeats.len() > 1);
    tables.extend(sets.map(set));
    tables.extend([
        sprints(review),
        recoveries(review),
        said::marks_table(review),
        bests(review),
        complete(review),
    ]);
    tables.retain(|table| !table.rows.is_empty());
    tables
}

fn heads(heads: &[&str]) -> Vec<String> {
    heads.iter().map(|head| (*head).to_owned()).collect()
}

fn blocks(review: &Review) -> Shown {
    let row = |block: &BlockResult| {
        let heart = match (block.heart.start_bpm, block.heart.end_bpm) {
            (None, None) => DASH.to_owned(),
            (start, end) => format!(
                "{} {} {}",
                number(start, 0),
                word!("to" # "from one figure to another"),
                number(end, 0)
            ),
        };
        vec![
            clock(block.start_s as f64),
            clock(block.ridden_s as f64),
            plain(&block.title()),
            if block.all_out {
                word!("all out" # "a column").to_owned()
            } else {
                number(block.effort, 1)
            },
            number(block.power_w, 0),
            per_cent(block.fitted.share(), 0),
            number(block.settle_s.map(f64::from), 0),
            number(block.cadence.mean_rpm, 0),
            heart,
            number(block.w_left_j.map(|left| left / 1000.0), 1),
            number(block.rating, 0),
        ]
    };
    Shown {
        title: word!("Blocks").to_owned(),
        heads: heads(&[
            word!("start" # "a column"),
            word!("ridden" # "a column"),
            word!("block" # "a column"),
            word!("effort" # "a column"),
            "W",
            word!("in lane" # "a column"),
            word!("settle s" # "a column"),
            "rpm",
            "bpm",
            word!("W′ kJ" # "a column"),
            word!("rated" # "a column"),
        ]),
        rows: review.blocks.iter().map(row).collect(),
        note: word!(
            "Settle: from the start to the first ten seconds on end in the lane. W′: an estimate of what is left at the \
               end."
        ),
        left: vec![2],
    }
}

fn layers(review: &Review) -> Shown {
    let row = |block: &BlockResult| {
        let off = &block.deviation;
        let laid = off.off_by_told_s + off.off_by_brake_s + off.off_by_legs_s;
        let unknown = off.off_lane_s.saturating_sub(laid);
        let share = |layer: &Layer| number(layer.share().map(|share| share * 100.0), 0);
        vec![
            plain(&block.title()),
            number(block.written.mean_w, 0),
            share(&block.written),
            number(block.fitted.mean_w, 0),
            share(&block.fitted),
            number(block.commanded.mean_w, 0),
            share(&block.commanded),
            number(block.power_w, 0),
            off.off_by_told_s.to_string(),
            off.off_by_brake_s.to_string(),
            off.off_by_legs_s.to_string(),
            unknown.to_string(),
        ]
    };
    let compared = |block: &&BlockResult| block.fitted.compared_s > 0;
    Shown {
        title: word!("What was asked, W, and what was ridden of it").to_owned(),
        heads: heads(&[
            word!("block" # "a column"),
            word!("written" # "a column"),
            word!("in %" # "a column"),
            word!("today" # "a column"),
            word!("in %" # "a column"),
            word!("brake" # "a column"),
            word!("in %" # "a column"),
            word!("ridden" # "a column of watts"),
            word!("told s" # "a column"),
            word!("brake s" # "a column"),
            word!("legs s" # "a column"),
            word!("? s" # "a column"),
        ]),
        rows: review.blocks.iter().filter(compared).map(row).collect(),
        note: word!(
            "Written by the session, today with trim, told to the brake; in %: of the time with both known, power lay in \
               that lane. Seconds off today's lane by whose doing: told, the brake was told something else; brake, on its \
               way; legs; ?, not known."
        ),
        left: vec![0],
    }
}

fn set(set: &SetResult) -> Shown {
    let decimals = |unit: &str| usize::from(matches!(unit, "Nm" | "kJ" | ""));
    let mut head = vec![word!("figure" # "a column").to_owned()];
    head.extend(set.repeats.iter().map(u32::to_string));
    head.push(word!("first to last" # "a column").to_owned());
    let rows = set.figures.iter().map(|moved| {
        let decimals = decimals(moved.unit);
        let unit = if moved.unit.is_empty() {
            String::new()
        } else {
            format!(", {}", moved.unit)
        };
        let mut cells = vec![format!("{}{unit}", crate::text::word(moved.figure))];
        cells.extend(moved.values.iter().map(|value| number(*value, decimals)));
        cells.push(change(moved.change, decimals));
        cells
    });
    Shown {
        title: say!("{name}, repeat by repeat", name = plain(&set.name)),
        heads: head,
        rows: rows.collect(),
        note: word!(
            "Change: the mean of the last third of the block less that of its first, the build-up left out."
        ),
        left: vec![0],
    }
}

fn sprints(review: &Review) -> Shown {
    let rows = review.sprints.each.iter().map(|sprint| {
        vec![
            plain(&sprint.name),
            clock(sprint.ridden_s as f64),
            number(sprint.peak_w, 0),
            number(sprint.to_peak_s, 1),
            number(sprint.mean_w, 0),
            per_cent(sprint.fatigue, 0),
            number(sprint.peak_cadence_rpm, 0),
            number(Some(sprint.resolution_s), 2),
            number(sprint.cadence_resolution_s, 2),
        ]
    });
    Shown {
        title: word!("Sprints").to_owned(),
        heads: heads(&[
            word!("sprint" # "a column"),
            word!("ridden" # "a column"),
            word!("best 1 s W" # "a column"),
            word!("to it s" # "a column"),
            word!("mean W" # "a column"),
            word!("fatigue" # "a column"),
            word!("most rpm" # "a column"),
            word!("W every s" # "a column"),
            word!("rpm every s" # "a column"),
        ]),
        rows: rows.collect(),
        note: word!("Fatigue: (best second − worst second after it) / best."),
        left: vec![0],
    }
}

fn recoveries(review: &Review) -> Shown {
    let rows = review.recoveries.iter().map(|one| {
        let like = one.like_block.and_then(|block| {
            let mut earlier = review.recoveries.iter();
            earlier.find(|earlier| earlier.block == block)
        });
        vec![
            plain(&one.name),
            number(one.start_bpm, 0),
            number(one.after_60_s_bpm, 0),
            change(one.fall_bpm.map(|fall| -fall), 0),
            number(one.power_over_60_s_w, 0),
            like.map_or_else(|| DASH.to_owned(), |like| plain(&like.name)),
            per_cent(one.in_lane, 0),
            change(one.over_lane_w, 0),
            per_cent(one.turning, 0),
        ]
    });
    Shown {
        title: word!("Recoveries").to_owned(),
        heads: heads(&[
            word!("recovery" # "a column"),
            "bpm",
            word!("60 s on" # "a column"),
            word!("change" # "a column"),
            word!("at W" # "a column"),
            word!("equal load as" # "a column"),
            word!("in lane" # "a column"),
            word!("over W" # "a column"),
            word!("turning" # "a column"),
        ]),
        rows: rows.collect(),
        note: word!(
            "Falls of heart rate are compared only where the load over the minute, and that of the block before, were \
               equal (10 % or 10 W). Over W: power less the lane."
        ),
        left: vec![0, 5],
    }
}

fn bests(review: &Review) -> Shown {
    let known = review
        .ride
        .best_means
        .iter()
        .filter(|best| best.mean_w.is_some());
    let (lengths, means) = known
        .map(|best| (clock(best.seconds as f64), number(best.mean_w, 0)))
        .unzip::<_, _, Vec<_>, Vec<_>>();
    let mut head = vec![word!("for" # "a column").to_owned()];
    head.extend(lengths);
    let mut cells = vec!["W".to_owned()];
    cells.extend(means);
    let rows = if cells.len() > 1 {
        vec![cells]
    } else {
        Vec::new()
    };
    Shown {
        title: word!("Best mean powers of this ride").to_owned(),
        heads: head,
        rows,
        note: word!("No window reaches over a gap or a pause of more than three seconds."),
        left: vec![0],
    }
}

fn complete(review: &Review) -> Shown {
    let ride = &review.ride;
    let row = |what: &str, channel: &Channel| {
        let share = channel.seconds as f64 / (ride.ridden_s as f64).max(1.0);
        vec![
            what.to_owned(),
            clock(channel.seconds as f64),
            per_cent(Some(share), 1),
            channel.gaps.to_string(),
            channel
                .longest_gap_s
                .map_or_else(|| DASH.to_owned(), |longest| clock(longest as f64)),
            number(channel.mean, 0),
            number(channel.most, 0),
        ]
    };
    Shown {
        title: word!("How complete the recording is").to_owned(),
        heads: heads(&[
            word!("quantity" # "a column"),
            word!("measured" # "a column"),
            word!("of the ride" # "a column"),
            word!("gaps" # "a column"),
            word!("longest" # "a column"),
            word!("mean" # "a column"),
            word!("most" # "a column"),
        ]),
        rows: vec![
            row(word!("power, W"), &ride.power),
            row(word!("cadence, rpm"), &ride.cadence),
            row(word!("heart rate, bpm"), &ride.heart_rate),
        ],
        note: word!("A gap is more than three seconds without a value."),
        left: vec![0],
    }
}

/// The table as text, no wider than `width` characters where the first text column can give way.
pub fn as_text(table: &Shown, width: usize) -> String {
    const GAP: usize = 2;
    const LEAST: usize = 12;
    let all = || std::iter::once(&table.heads).chain(&table.rows);
    let mut widths: Vec<usize> = (0..table.heads.len())
        .map(|column| {
            let cells = all().filter_map(|row| row.get(column));
            cells.map(|cell| cell.chars().count()).max().unwrap_or(0)
        })
        .collect();
    let whole = widths.iter().sum::<usize>() + GAP * widths.len().saturating_sub(1);
    if let Some(&gives) = table.left.first()
        && let Some(name) = widths.get_mut(gives)
    {
        let narrow = name.saturating_sub(whole.saturating_sub(width)).max(LEAST);
        *name = narrow.min(*name);
    }
    let mut text = format!("{}\n", table.title);
    for row in all() {
        let cells: Vec<String> = row
            .iter()
            .zip(&widths)
            .enumerate()
            .map(|(column, (cell, &width))| {
                let cell = clipped(cell, width);
                if table.left.contains(&column) {
                    format!("{cell:<width$}")
                } else {
                    format!("{cell:>width$}")
                }
            })
            .collect();
        text += cells.join(&" ".repeat(GAP)).trim_end();
        text.push('\n');
    }
    text
}

fn clipped(cell: &str, width: usize) -> String {
    if cell.chars().count() <= width {
        return cell.to_owned();
    }
    let mut short: String = cell.chars().take(width.saturating_sub(1)).collect();
    short.push('…');
    short
}

/// The table for a spreadsheet: its heads, then its rows. A dash, which stands for what is not known, is an empty cell,
/// and the sign of minus and the point of decimals are those that a spreadsheet reads.
pub fn as_csv(table: &Shown) -> String {
    let cell = |(column, cell): (usize, &String)| {
        let plain = match cell.as_str() {
            DASH => String::new(),
            other => other.replace('−', "-"),
        };
        if table.left.contains(&column) {
            Sort::Text.write(&Value::text(&plain))
        } else {
            plain.replace(',', ".")
        }
    };
    let mut writer = csv::WriterBuilder::new()
        .terminator(csv::Terminator::Any(b'\n'))
        .from_writer(Vec::new());
    for row in std::iter::once(&table.heads).chain(&table.rows) {
        let cells: Vec<_> = row.iter().enumerate().map(cell).collect();
        // Writing to memory cannot fail.
        let _ = writer.write_record(cells.iter().map(|cell| cell.as_bytes()));
    }
    let bytes = writer.into_inner().unwrap_or_default();
    String::from_utf8_lossy(&bytes).into_owned()
}
