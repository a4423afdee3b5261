//! Which block as written each block of a fitted session is, and which blocks fell away.

use super::blocks_and_repeats;
use crate::plan::model::Plan;
use crate::plan::unroll::Piece;
use crate::time::Span;

/// The number, from 1, of the written block that each block still ridden is, in the order in which they are ridden.
///
/// Both trees are of the same shape: what is left out has no length, and of repeats the last ones go.
pub(super) fn origins(written: &[Piece], fitted: &[Piece]) -> Vec<u32> {
    let was = blocks_and_repeats(written);
    let mut rest = was.iter().zip(1..);
    blocks_and_repeats(fitted)
        .into_iter()
        .filter(|(.., length)| *length > Span::ZERO)
        .filter_map(|(path, repeats, _)| {
            rest.find(|((old, places, _), _)| *old == path && *places == repeats)
                .map(|(_, number)| number)
        })
        .collect()
}

/// The blocks of a session that were not taken over into the fitted one: "Causeway 3 and 4 of 4". Blocks of one name are
/// counted over the whole session, since a repeat within a repeat has no number of its own.
pub fn left_out(written: &Plan, origins: &[u32]) -> Vec<String> {
    let mut names: Vec<(&str, u32, Vec<u32>)> = Vec::new();
    for (block, number) in written.blocks.iter().zip(1u32..) {
        let known = names.iter_mut().find(|(name, ..)| *name == block.name);
        let (_, count, out) = match known {
            Some(known) => known,
            None => {
                names.push((&block.name, 0, Vec::new()));
                // It was put there the line before.
                let Some(last) = names.last_mut() else {
                    continue;
                };
                last
            }
        };
        *count += 1;
        if !origins.contains(&number) {
            out.push(*count);
        }
    }
    let and = word!("and" # "between figures");
    let of = word!("of" # "of so many");
    names
        .into_iter()
        .filter(|(.., out)| !out.is_empty())
        .map(|(name, count, out)| match (count, out.as_slice()) {
            (1, _) => name.to_owned(),
            (_, [before @ .., last]) if !before.is_empty() => {
                let before: Vec<_> = before.iter().map(u32::to_string).collect();
                format!("{name} {} {and} {last} {of} {count}", before.join(", "))
            }
            (_, out) => format!("{name} {} {of} {count}", out[0]),
        })
        .collect()
}
