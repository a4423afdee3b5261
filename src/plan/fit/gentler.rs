//! What makes a session gentler: a longer warm-up, easier recoveries.

use super::{CannotFit, Draft, Recoveries, blocks, paths, piece_at};
use crate::plan::model::{Kind, Load, Target};
use crate::plan::unroll::Piece;
use crate::plan::words;
use crate::text::{Language, within};
use crate::time::Span;
use crate::units::legal;

/// Easier recoveries are an effort of so much less (common practice, no source).
const EASIER_EFFORT: f64 = 1.0;
/// Below this effort a recovery is not made easier: legs that hardly turn do not clear.
const EASIEST_EFFORT: f64 = 2.0;
/// The share that other loads lose in easier recoveries (common practice, no source).
const EASIER_SHARE: f64 = 0.15;

/// Makes the warm-up so many minutes longer: its longest block that may be stretched.
pub(super) fn warm_up(draft: &mut Draft<'_>, minutes: u32) -> Result<(), CannotFit> {
    if minutes == 0 {
        return Ok(());
    }
    let more = Span::from_seconds(u64::from(minutes) * 60);
    let longest = blocks(&mut draft.pieces)
        .into_iter()
        .take_while(|&(_, kind, _)| !kind.is_work())
        .filter(|(path, kind, _)| {
            // One within a set would be made longer as often as it is ridden.
            let may =
                matches!(draft.pieces.get(path[0]), Some(Piece::One(read)) if read.block.stretch);
            *kind == Kind::WarmUp && may && path.len() == 1
        })
        .max_by_key(|&(ref path, _, length)| (length, std::cmp::Reverse(path.clone())));
    let Some((path, _, length)) = longest else {
        return Err(CannotFit(word!("The session has no warm-up before its work that may be made longer. Ride some easy minutes before you start it.").to_owned()));
    };
    if (length + more).seconds() > legal::BLOCK_SECONDS.most {
        return Err(CannotFit(
            word!("The warm-up would be longer than a block can be. Wish for less.").to_owned(),
        ));
    }
    if let Some(Piece::One(read)) = piece_at(&mut draft.pieces, &path) {
        read.block.length += more;
        draft.changes.push(kept!(
            "{name}: {now} in place of {was}, for a longer warm-up.",
            name = read.block.name,
            now = read.block.length,
            was = length
        ));
    }
    Ok(())
}

/// Makes the recoveries easier.
pub(super) fn recoveries(draft: &mut Draft<'_>, recoveries: Recoveries) {
    let amount = match recoveries {
        Recoveries::Full => return,
        Recoveries::HalfWay => 0.5,
        Recoveries::Easier => 1.0,
    };
    let mut changed = Vec::new();
    for path in paths(&draft.pieces) {
        let Some(Piece::One(read)) = piece_at(&mut draft.pieces, &path) else {
            continue;
        };
        if read.block.kind != Kind::Recovery {
            continue;
        }
        let easier = match read.block.target {
            Target::Steady(load) => Target::Steady(ease(load, amount)),
            Target::Line(from, to) => Target::Line(ease(from, amount), ease(to, amount)),
            Target::None => Target::None,
        };
        if easier != read.block.target {
            changed.push((read.block.name.clone(), easier, read.block.target));
            read.block.target = easier;
        }
    }
    let [(name, easier, written), alike @ ..] = changed.as_slice() else {
        return;
    };
    // What was changed is kept in English, and its targets with it.
    let english = |target| within(Language::English, || words::target(target));
    let (now, was, more) = (english(*easier), english(*written), alike.len());
    draft.changes.push(match (recoveries, more) {
        (Recoveries::HalfWay, 0) => {
            kept!("Recoveries half-way back to the full ones: {name} at {now} in place of {was}.")
        }
        (Recoveries::HalfWay, _) => kept!(
            "Recoveries half-way back to the full ones: {name} at {now} in place of {was}, and {more} more alike."
        ),
        (_, 0) => kept!("Recoveries easier: {name} at {now} in place of {was}."),
        (_, _) => {
            kept!("Recoveries easier: {name} at {now} in place of {was}, and {more} more alike.")
        }
    });
}

/// An easier load; never more than the written one. A descent is left as it is.
fn ease(load: Load, amount: f64) -> Load {
    let value = load.value();
    let (lower, step) = match load {
        Load::Effort(_) => ((value - EASIER_EFFORT * amount).max(EASIEST_EFFORT), 0.1),
        Load::Power(_) => (value * (1.0 - EASIER_SHARE * amount), 1.0),
        Load::Threshold(_) | Load::Level(_) => (value * (1.0 - EASIER_SHARE * amount), 0.01),
        Load::Slope(_) => (value * (1.0 - EASIER_SHARE * amount), 0.1),
    };
    // Rounded to a figure that a hand would write; steps a whole give decimals without a tail.
    let rounded = (lower / step).round() / (1.0_f64 / step).round();
    load.with_value(rounded.min(value))
}
