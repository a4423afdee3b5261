//! What makes a session shorter, in the order of the rules: repeats, cuttable blocks, the ends of long steady blocks,
//! and what warm-up and cool-down have above their floors.

use super::{CannotFit, Draft, Path, blocks, paths, piece_at};
use crate::plan::model::{CuePlace, Kind, Target};
use crate::plan::unroll::Piece;
use crate::plan::warn::{LEAST_COOL_DOWN, LEAST_WARM_UP};
use crate::time::Span;

/// A steady block stays as long as this at least, so that it is still rated (rules of the ride: blocks of three minutes
/// or more).
const LEAST_LONG: Span = Span::from_seconds(180);
/// A block of warm-up or cool-down stays as long as this at least (common practice, no source).
const LEAST_EASY: Span = Span::from_seconds(60);
/// Ends are taken off by so much at a time, from the longest block (common practice, no source).
const STEP: Span = Span::from_seconds(15);

/// Makes the session so long at most. `warm_up_stays` where a longer one was wished for.
pub(super) fn shorten(
    draft: &mut Draft<'_>,
    most: Span,
    warm_up_stays: bool,
) -> Result<(), CannotFit> {
    let before = draft.length();
    if before <= most {
        return Ok(());
    }
    if draft.written.test.is_some() {
        return Err(CannotFit(say!(
            "A threshold test measures nothing once it is cut: it takes {before}, and you have {most}. Ride it on a day \
             with more time, or choose another session.",
            before,
            most
        )));
    }
    repeats(draft, most);
    left_out(draft, most);
    let long = long_steady(draft);
    ends(draft, most, long);
    if !warm_up_stays {
        let easy = easy(draft, Kind::WarmUp, LEAST_WARM_UP);
        ends(draft, most, easy);
    }
    let easy = easy(draft, Kind::CoolDown, LEAST_COOL_DOWN);
    ends(draft, most, easy);
    let shortest = draft.length();
    if shortest > most {
        return Err(CannotFit(say!(
            "The shortest that \"{session}\" can be is {shortest}, and you have {most}: its warm-up, its cool-down and a \
             piece of its work stay. Take {minutes} minutes, or choose another session.",
            session = draft.written.name,
            shortest,
            most,
            minutes = shortest.whole_seconds().div_ceil(60)
        )));
    }
    silence(draft);
    let spare = most.less(shortest);
    if spare >= Span::from_seconds(60) {
        draft.changes.push(kept!(
            "It is {shortest} now and leaves {spare} of your {most}: what goes first goes whole."
        ));
    }
    Ok(())
}

/// Takes repeats off, of the set that has the most left, and gives back those for which there is time after all.
fn repeats(draft: &mut Draft<'_>, most: Span) {
    let sets: Vec<(Path, u32)> = paths(&draft.pieces)
        .into_iter()
        .filter_map(|path| match piece_at(&mut draft.pieces, &path)? {
            Piece::Set(_, inner) if holds_easy(inner) => None,
            Piece::Set(repeat, _) => Some((path, *repeat)),
            Piece::One(_) => None,
        })
        .collect();
    let count = |draft: &mut Draft<'_>, path: &Path| match piece_at(&mut draft.pieces, path) {
        Some(Piece::Set(repeat, _)) => *repeat,
        _ => 1,
    };
    let set = |draft: &mut Draft<'_>, path: &Path, to: u32| {
        if let Some(Piece::Set(repeat, _)) = piece_at(&mut draft.pieces, path) {
            *repeat = to;
        }
    };
    while draft.length() > most {
        let left: Vec<u32> = sets.iter().map(|(path, _)| count(draft, path)).collect();
        let Some((at, &greatest)) = left
            .iter()
            .enumerate()
            .max_by_key(|&(at, repeat)| (repeat, at))
            .filter(|&(_, &repeat)| repeat > 1)
        else {
            break;
        };
        set(draft, &sets[at].0, greatest - 1);
    }
    for (path, written) in &sets {
        while draft.length() <= most {
            let now = count(draft, path);
            if now >= *written {
                break;
            }
            set(draft, path, now + 1);
            if draft.length() > most {
                set(draft, path, now);
                break;
            }
        }
    }
    for (path, written) in sets {
        let now = count(draft, &path);
        if now < written {
            let name = name_of_set(piece_at(&mut draft.pieces, &path));
            draft.changes.push(match now {
                1 => kept!("{name}: once in place of {written} times."),
                _ => kept!("{name}: {now} times in place of {written}."),
            });
        }
    }
}

/// Whether a set holds warm-up or cool-down: they go by their ends, down to their floors, and not by repeats.
fn holds_easy(pieces: &[Piece]) -> bool {
    pieces.iter().any(|piece| match piece {
        Piece::One(read) => matches!(read.block.kind, Kind::WarmUp | Kind::CoolDown),
        Piece::Set(_, inner) => holds_easy(inner),
    })
}

/// A set is called by its first work, else by its first block.
fn name_of_set(piece: Option<&mut Piece>) -> String {
    let Some(Piece::Set(_, inner)) = piece else {
        return entry!("The set").to_owned();
    };
    let mut names = Vec::new();
    for path in paths(inner) {
        if let Some(Piece::One(read)) = piece_at(inner, &path) {
            names.push((read.block.kind.is_work(), read.block.name.clone()));
        }
    }
    let work = names.iter().position(|(work, _)| *work).unwrap_or(0);
    names
        .into_iter()
        .nth(work)
        .map_or_else(|| entry!("The set").to_owned(), |(_, name)| name)
}

/// Leaves out blocks that may be cut, the last first; never the last piece of work, nor the session's last block, on
/// which those before it count.
fn left_out(draft: &mut Draft<'_>, most: Span) {
    let all = blocks(&mut draft.pieces);
    let last = all.last().map(|(path, ..)| path.clone());
    let mut out: Vec<(Path, Span, String)> = Vec::new();
    for (path, kind, length) in all.into_iter().rev() {
        if draft.length() <= most {
            break;
        }
        let left = blocks(&mut draft.pieces);
        let work = left.iter().filter(|(_, kind, _)| kind.is_work()).count();
        if Some(&path) == last.as_ref() || (kind.is_work() && work == 1) {
            continue;
        }
        if let Some(Piece::One(read)) = piece_at(&mut draft.pieces, &path)
            && read.block.cut
        {
            read.block.length = Span::ZERO;
            out.push((path, length, read.block.name.clone()));
        }
    }
    // What was left out first may have room again, as often as it is ridden.
    out.retain(|(path, length, _)| {
        let set = |draft: &mut Draft<'_>, length: Span| {
            if let Some(Piece::One(read)) = piece_at(&mut draft.pieces, path) {
                read.block.length = length;
            }
        };
        set(draft, *length);
        let over = draft.length() > most;
        if over {
            set(draft, Span::ZERO);
        }
        over
    });
    if !out.is_empty() {
        let names: Vec<_> = out.into_iter().rev().map(|(.., name)| name).collect();
        let names = names.join(", ");
        draft.changes.push(kept!("Left out: {names}."));
    }
}

/// A block whose end may be taken off, down to its least length.
type Ends = Vec<(Path, Span)>;

fn long_steady(draft: &mut Draft<'_>) -> Ends {
    let all = blocks(&mut draft.pieces);
    let mut long = Ends::new();
    for (path, kind, length) in all {
        let steady = matches!(
            piece_at(&mut draft.pieces, &path),
            Some(Piece::One(read)) if !matches!(read.block.target, Target::Line(..))
        );
        let main = matches!(kind, Kind::Hold | Kind::Recovery | Kind::Free);
        if steady && main && length > LEAST_LONG {
            let half = Span::from_seconds(length.whole_seconds().div_ceil(2));
            long.push((path, LEAST_LONG.max(half)));
        }
    }
    long
}

/// The warm-up before the first work or the cool-down at the end, whose sum stays at its floor at least.
fn easy(draft: &mut Draft<'_>, kind: Kind, floor: Span) -> Ends {
    let mut all = blocks(&mut draft.pieces);
    if kind == Kind::CoolDown {
        all.reverse();
    }
    let these: Vec<_> = all
        .into_iter()
        .take_while(|&(_, other, _)| match kind {
            Kind::CoolDown => other == kind,
            _ => !other.is_work(),
        })
        .filter(|&(_, other, _)| other == kind)
        .collect();
    let total: Span = these.iter().map(|&(.., length)| length).sum();
    let mut room = total.less(floor);
    let mut ends = Ends::new();
    for (path, _, length) in these {
        let least = match piece_at(&mut draft.pieces, &path) {
            Some(Piece::One(read)) => LEAST_EASY.max(read.block.build_up.unwrap_or(Span::ZERO)),
            _ => LEAST_EASY,
        };
        let off = length.less(least).min(room);
        room = room.less(off);
        ends.push((path, length.less(off)));
    }
    ends
}

/// Takes ends off, from the longest block first, until it is short enough or all are at their least.
fn ends(draft: &mut Draft<'_>, most: Span, ends: Ends) {
    let before = blocks(&mut draft.pieces);
    loop {
        let over = draft.length().less(most);
        if over == Span::ZERO {
            break;
        }
        let mut longest: Option<(Span, &Path, Span)> = None;
        for (path, least) in &ends {
            if let Some(Piece::One(read)) = piece_at(&mut draft.pieces, path) {
                let (length, room) = (read.block.length, read.block.length.less(*least));
                if room > Span::ZERO && longest.is_none_or(|(other, ..)| length >= other) {
                    longest = Some((length, path, room));
                }
            }
        }
        let Some((length, path, room)) = longest else {
            break;
        };
        if let Some(Piece::One(read)) = piece_at(&mut draft.pieces, path) {
            read.block.length = length.less(STEP.min(room).min(over));
        }
    }
    for (path, _, was) in before {
        if let Some(Piece::One(read)) = piece_at(&mut draft.pieces, &path)
            && read.block.length < was
        {
            draft.changes.push(kept!(
                "{name}: {now} in place of {was}.",
                name = read.block.name,
                now = read.block.length
            ));
        }
    }
}

/// Cues that would come after the new end of their block fall away, and are counted.
fn silence(draft: &mut Draft<'_>) {
    let mut lost = 0;
    for (path, ..) in blocks(&mut draft.pieces) {
        if let Some(Piece::One(read)) = piece_at(&mut draft.pieces, &path) {
            let length = read.block.length;
            let before = read.cues.len();
            read.cues.retain(|read| match read.cue.place {
                CuePlace::FromStart(after) => after < length,
                // Those before the new start would all fall on its first second.
                CuePlace::FromEnd(before) => before <= length,
            });
            lost += before - read.cues.len();
        }
    }
    match lost {
        0 => {}
        1 => draft.changes.push(kept!(
            "One cue falls away, whose place is outside of its shorter block."
        )),
        more => draft.changes.push(kept!(
            "{more} cues fall away, whose places are outside of their shorter blocks."
        )),
    }
}
