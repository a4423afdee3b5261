//! Sets become blocks that follow one another, each knowing its repeat and where it was written.

use super::block::{ReadBlock, read_block};
use super::cue::ReadCue;
use super::fields::{FIELDS, INNER_SET, MOST_BLOCKS, SESSION_SECONDS, SET};
use super::model::{Block, Repeat};
use crate::text::Language;
use crate::time::Span;
use crate::toml_table::{Place, Problems, Table, read_table};

/// A block or a set as read.
#[derive(Clone, Debug)]
pub(super) enum Piece {
    One(Box<ReadBlock>),
    Set(u32, Vec<Piece>),
}

/// How deep in sets a table stands.
#[derive(Clone, Copy)]
enum Depth {
    Top,
    InSet,
    InInnerSet,
}

/// Reads blocks and sets; those with errors are left out of what is given.
pub(super) fn read_pieces(
    tables: &[Table<'_>],
    lost_keys: &[String],
    language: Language,
    problems: &mut Problems,
) -> Vec<Piece> {
    read_at(Depth::Top, tables, lost_keys, language, problems)
}

fn read_at(
    depth: Depth,
    tables: &[Table<'_>],
    lost_keys: &[String],
    language: Language,
    problems: &mut Problems,
) -> Vec<Piece> {
    tables
        .iter()
        .filter_map(|&table| {
            let is_set =
                table.entries.contains_key("repeat") || table.entries.contains_key("block");
            match depth {
                _ if !is_set => read_block(table, lost_keys, language, problems)
                    .map(|block| Piece::One(Box::new(block))),
                Depth::Top => read_set(SET, Depth::InSet, table, lost_keys, language, problems),
                Depth::InSet => read_set(
                    INNER_SET,
                    Depth::InInnerSet,
                    table,
                    lost_keys,
                    language,
                    problems,
                ),
                Depth::InInnerSet => {
                    problems.error(
                        table.at,
                        word!("A set stands in a set in a set; sets may nest once."),
                        word!("Write the innermost blocks out, or bring the set up by one."),
                    );
                    None
                }
            }
        })
        .collect()
}

fn read_set(
    place: Place,
    inside: Depth,
    table: Table<'_>,
    lost_keys: &[String],
    language: Language,
    problems: &mut Problems,
) -> Option<Piece> {
    let values = read_table(FIELDS, place, table, lost_keys, problems);
    let pieces = read_at(
        inside,
        values.tables("block"),
        lost_keys,
        language,
        problems,
    );
    // The bounds of the field keep it from 1 to 100.
    let repeat = values.number("repeat")? as u32;
    Some(Piece::Set(repeat, pieces))
}

/// A block of the unrolled session, with the places of itself and its cues in the file.
#[derive(Clone, Debug)]
pub(super) struct Unrolled {
    pub(super) block: Block,
    pub(super) at: usize,
    pub(super) cues: Vec<ReadCue>,
}

/// Unrolls sets, after checking that the result stays within its bounds.
pub(super) fn unroll(pieces: &[Piece], problems: &mut Problems) -> Option<Vec<Unrolled>> {
    let (count, length) = size(pieces);
    if count > MOST_BLOCKS {
        problems.error(
            0,
            say!(
                "The session has {count} blocks once its sets are unrolled; {most} is the most.",
                count,
                most = MOST_BLOCKS
            ),
            word!("Repeat less often."),
        );
        return None;
    }
    if length.seconds() > SESSION_SECONDS.most {
        let most = Span::from_seconds_f64(SESSION_SECONDS.most);
        problems.error(
            0,
            say!(
                "The session is {length} long; {most} is the most.",
                length,
                most
            ),
            word!("Make blocks shorter, or repeat less often."),
        );
        return None;
    }
    let mut blocks = Vec::new();
    unroll_into(pieces, None, &mut blocks);
    Some(blocks)
}

/// How many blocks these become once unrolled, and how long they are.
pub(super) fn size(pieces: &[Piece]) -> (u64, Span) {
    pieces
        .iter()
        .fold((0, Span::ZERO), |(count, length), piece| match piece {
            Piece::One(read) => (count + 1, length + read.block.length),
            Piece::Set(repeat, inner) => {
                let (inner_count, inner_length) = size(inner);
                let times = u64::from(*repeat);
                (
                    count.saturating_add(inner_count.saturating_mul(times)),
                    length + Span(inner_length.0.saturating_mul(times)),
                )
            }
        })
}

fn unroll_into(pieces: &[Piece], repeat: Option<Repeat>, blocks: &mut Vec<Unrolled>) {
    for piece in pieces {
        match piece {
            Piece::One(read) => {
                let mut block = read.block.clone();
                block.repeat = repeat;
                block.cues = read.cues.iter().map(|read| read.cue.clone()).collect();
                blocks.push(Unrolled {
                    block,
                    at: read.at,
                    cues: read.cues.clone(),
                });
            }
            Piece::Set(of, inner) => {
                for number in 1..=*of {
                    unroll_into(inner, Some(Repeat { number, of: *of }), blocks);
                }
            }
        }
    }
}
