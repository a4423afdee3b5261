//! What happens when in a session, as a table, and how long each kind of block lasts in all.

use super::{RiderWatts, WIDTH};
use crate::plan::{Kind, Plan, Position, Timing};
use crate::rider::Rider;
use crate::text;
use crate::time::Span;

/// A row for each block, its watts those of the rider.
pub(super) fn timing_table(plan: &Plan, rows: &[Timing], rider: &Rider) -> String {
    const HEADS: [&str; 8] = [
        entry!("start"),
        entry!("length"),
        entry!("block"),
        entry!("asks for"),
        entry!("watts"),
        "rpm",
        entry!("position"),
        entry!("cues"),
    ];
    /// Columns of figures stand to the right.
    const RIGHT: [bool; 8] = [true, true, false, false, true, true, false, true];
    const NAME: usize = 2;
    const GAP: usize = 2;
    let mut capped = false;
    let mut lines = vec![HEADS.map(|head| text::word(head).to_owned())];
    for (row, block) in rows.iter().zip(&plan.blocks) {
        let watts = RiderWatts::of(block, rider);
        capped |= watts.is_some_and(|watts| watts.capped);
        let cues = if row.cues.is_empty() {
            String::new()
        } else {
            row.cues.len().to_string()
        };
        lines.push([
            row.start.to_string(),
            row.length.to_string(),
            row.name.clone(),
            row.target.clone(),
            watts.map_or_else(|| "–".to_owned(), RiderWatts::text),
            row.cadence.trim_end_matches(" rpm").to_owned(),
            position_word(block.position).to_owned(),
            cues,
        ]);
    }
    let longest = |column: usize| {
        let cells = lines.iter().map(|line| line[column].chars().count());
        cells.max().unwrap_or(0)
    };
    let mut widths: [usize; 8] = std::array::from_fn(longest);
    // Names give way where the table would be too wide; the figures never do.
    let whole = widths.iter().sum::<usize>() + GAP * (widths.len() - 1);
    widths[NAME] = widths[NAME]
        .saturating_sub(whole.saturating_sub(WIDTH))
        .max(lines[0][NAME].chars().count() + 3);
    let mut text = String::new();
    for line in &lines {
        let cells: Vec<String> = line
            .iter()
            .enumerate()
            .map(|(column, cell)| {
                let cell = clipped(cell, widths[column]);
                let width = widths[column];
                if RIGHT[column] {
                    format!("{cell:>width$}")
                } else {
                    format!("{cell:<width$}")
                }
            })
            .collect();
        text.push_str(cells.join(&" ".repeat(GAP)).trim_end());
        text.push('\n');
    }
    if capped {
        text.push_str(word!(
            "* The rider's cap holds it lower than the session asks."
        ));
        text.push('\n');
    }
    if plan
        .blocks
        .iter()
        .any(|block| RiderWatts::of(block, rider).is_none())
    {
        text.push_str(word!("– No figure in watts: the rider makes them."));
        text.push('\n');
    }
    text
}

fn position_word(position: Position) -> &'static str {
    match position {
        Position::Seated => word!("seated"),
        Position::Standing => word!("standing"),
        Position::Low => word!("low" # "how to sit"),
        Position::OwnChoice => "",
    }
}

fn kind_word(kind: Kind) -> &'static str {
    match kind {
        Kind::WarmUp => word!("warm-up"),
        Kind::Hold => word!("hold" # "a kind of block"),
        Kind::Recovery => word!("recovery"),
        Kind::Sprint => word!("sprint"),
        Kind::CoolDown => word!("cool-down"),
        Kind::Free => word!("free" # "a kind of block"),
    }
}

fn clipped(cell: &str, width: usize) -> String {
    if cell.chars().count() <= width {
        return cell.to_owned();
    }
    let mut short: String = cell.chars().take(width.saturating_sub(1)).collect();
    short.push('…');
    short
}

/// How long each kind lasts in all.
pub(super) fn totals(plan: &Plan) -> String {
    let mut parts: Vec<(&str, Span)> = plan
        .totals()
        .into_iter()
        .map(|(kind, span)| (kind_word(kind), span))
        .collect();
    parts.push((word!("main part"), plan.main_length()));
    parts.push((word!("whole" # "the session"), plan.length()));
    parts.iter().fold(String::new(), |text, (name, span)| {
        text + &format!("{name:<10} {span:>7}\n")
    })
}
