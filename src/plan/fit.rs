//! A session fitted to the day: to the time there is, with a longer warm-up, with easier recoveries. Pure and always the
//! same; what was changed is told in sentences.
//!
//! Short of time repeats go first, then blocks marked as cuttable, then the ends of long steady blocks, and last what
//! warm-up and cool-down have above their floors (rules of the ride).

mod gentler;
mod origin;
mod shorter;

use std::fmt;
use std::sync::Arc;

use serde::{Deserialize, Serialize};

use super::model::{Kind, Plan};
use super::read::{read, read_pieces_of};
use super::unroll::{Piece, size};
use super::write::to_text;
use crate::time::Span;
use crate::units::Legal;

pub use origin::left_out;

/// The time that a rider has, minutes.
pub const MINUTES: Legal = Legal {
    what: entry!("a time to fit the session to"),
    unit: entry!("minutes"),
    least: 1.0,
    most: 360.0,
};
/// How much longer the warm-up can be made, minutes.
pub const WARM_UP_MINUTES: Legal = Legal {
    what: entry!("a longer warm-up"),
    unit: entry!("minutes"),
    least: 0.0,
    most: 30.0,
};

/// How the recoveries are ridden.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Recoveries {
    /// As they were written.
    #[default]
    Full,
    /// Half-way back from the easier ones.
    HalfWay,
    /// Easier: an effort of one less, other loads by 15 %.
    Easier,
}

impl Recoveries {
    /// As written in files.
    pub const fn key(self) -> &'static str {
        match self {
            Self::Full => "full",
            Self::HalfWay => "half-way",
            Self::Easier => "easier",
        }
    }

    /// By the word in files; none for another.
    pub fn of(key: &str) -> Option<Self> {
        let all = [Self::Full, Self::HalfWay, Self::Easier];
        all.into_iter().find(|one| one.key() == key)
    }

    /// The next step back towards the full recoveries.
    #[must_use]
    pub const fn step_back(self) -> Self {
        match self {
            Self::Easier => Self::HalfWay,
            Self::HalfWay | Self::Full => Self::Full,
        }
    }
}

/// What is wished for of a session today.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default, rename_all = "kebab-case")]
pub struct Wish {
    /// The time there is, whole minutes of [`MINUTES`]; none where there is enough.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub minutes: Option<u32>,
    /// So many whole minutes more of warm-up, of [`WARM_UP_MINUTES`].
    pub warm_up: u32,
    /// How the recoveries are ridden.
    pub recoveries: Recoveries,
}

impl Wish {
    /// Whether nothing is wished for.
    pub fn is_none(&self) -> bool {
        *self == Self::default()
    }
}

/// Where a fitted session comes from.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Fitting {
    /// The session's text as it was written.
    pub written: Arc<str>,
    /// What was wished for.
    pub wish: Wish,
    /// For each block of the fitted session the number, from 1, of the written block that it is.
    pub blocks: Vec<u32>,
}

/// A fitted session, and what was changed in it, a sentence each; none where it was left as it is.
#[derive(Clone, Debug, PartialEq)]
pub struct Fitted {
    /// The session as it will be ridden.
    pub plan: Plan,
    /// What was changed. In English, as the session's own text has it, and recordings: it is translated where it is drawn.
    pub changes: Vec<String>,
}

/// Why a session cannot be fitted: what is wished for, why not, what to do.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct CannotFit(pub String);

/// A session that is being changed.
struct Draft<'p> {
    written: &'p Plan,
    /// Its blocks and sets. A block that has no length is left out.
    pieces: Vec<Piece>,
    changes: Vec<String>,
}

impl Draft<'_> {
    fn length(&self) -> Span {
        size(&self.pieces).1
    }
}

/// Fits a session, given as it was written, to the day.
///
/// The fitted session reads back from its own text, which says in comments what it was fitted from and what was changed.
/// A wish that changes nothing gives the session itself.
///
/// # Errors
/// A sentence where the time is too short for what has to stay (with the shortest that the session can be), where a
/// threshold test would be changed, and where a figure is outside of its bounds.
pub fn fit(written: &Plan, wish: &Wish) -> Result<Fitted, CannotFit> {
    if let Some(minutes) = wish.minutes {
        check(MINUTES, minutes)?;
    }
    check(WARM_UP_MINUTES, wish.warm_up)?;
    let pieces = read_pieces_of(&written.source).ok_or_else(|| {
        CannotFit(word!("The session's own text cannot be read, so it cannot be fitted. Ride it as it is, or choose another.").to_owned())
    })?;
    let mut draft = Draft {
        written,
        pieces: pieces.clone(),
        changes: Vec::new(),
    };
    gentler::warm_up(&mut draft, wish.warm_up)?;
    gentler::recoveries(&mut draft, wish.recoveries);
    if let Some(minutes) = wish.minutes {
        let most = Span::from_seconds(u64::from(minutes) * 60);
        shorter::shorten(&mut draft, most, wish.warm_up > 0)?;
    }
    let Draft {
        pieces: fitted,
        changes,
        ..
    } = draft;
    if changes.is_empty() {
        let plan = written.clone();
        return Ok(Fitted { plan, changes });
    }
    let text = to_text(written, &fitted, &comment(written, &changes));
    let reading = read(&text);
    let Some(mut plan) = reading.plan else {
        let why = reading
            .problems
            .first()
            .map(|problem| problem.what.as_str());
        return Err(CannotFit(say!(
            "The session cannot be fitted so: {why} Wish for something else, or ride it as it was written.",
            why = why.unwrap_or(word!("it would be no session any more."))
        )));
    };
    plan.fitted = Some(Arc::new(Fitting {
        written: Arc::clone(&written.source),
        wish: *wish,
        blocks: origin::origins(&pieces, &fitted),
    }));
    Ok(Fitted { plan, changes })
}

fn check(legal: Legal, minutes: u32) -> Result<(), CannotFit> {
    let outside = |error| CannotFit(say!("The session was not fitted: {error}.", error));
    legal.check(f64::from(minutes)).map(drop).map_err(outside)
}

/// The first line of what a fitted session's text says of itself.
const FITTED_FROM: &str = "# Fitted to the day from";
/// Before each change in the text.
const CHANGED: &str = "# - ";

fn comment(written: &Plan, changes: &[String]) -> String {
    let mut text = format!(
        "{FITTED_FROM} \"{}\", {} as it was written.\n",
        written.name,
        written.length()
    );
    for change in changes {
        text += &format!("{CHANGED}{change}\n");
    }
    text
}

/// What was changed in a session, as its own text says; nothing in one that was not fitted.
pub fn changes_of(text: &str) -> Vec<String> {
    let mut lines = text.lines();
    if !lines
        .next()
        .is_some_and(|line| line.starts_with(FITTED_FROM))
    {
        return Vec::new();
    }
    lines
        .map_while(|line| line.strip_prefix(CHANGED))
        .map(str::to_owned)
        .collect()
}

/// A block of a tree of pieces: at which index of each level.
pub(super) type Path = Vec<usize>;

/// The paths of all pieces, those of a set after the set itself, in the order in which they are ridden.
fn paths(pieces: &[Piece]) -> Vec<Path> {
    let mut all = Vec::new();
    for (index, piece) in pieces.iter().enumerate() {
        all.push(vec![index]);
        if let Piece::Set(_, inner) = piece {
            for mut path in paths(inner) {
                path.insert(0, index);
                all.push(path);
            }
        }
    }
    all
}

pub(super) fn piece_at<'d>(pieces: &'d mut [Piece], path: &[usize]) -> Option<&'d mut Piece> {
    let (first, rest) = path.split_first()?;
    let piece = pieces.get_mut(*first)?;
    match (piece, rest) {
        (piece, []) => Some(piece),
        (Piece::Set(_, inner), rest) => piece_at(inner, rest),
        (Piece::One(_), _) => None,
    }
}

/// The places and kinds of the blocks that are still ridden, in their order.
fn blocks(pieces: &mut [Piece]) -> Vec<(Path, Kind, Span)> {
    paths(pieces)
        .into_iter()
        .filter_map(|path| match piece_at(pieces, &path)? {
            Piece::One(read) if read.block.length > Span::ZERO => {
                let (kind, length) = (read.block.kind, read.block.length);
                Some((path, kind, length))
            }
            _ => None,
        })
        .collect()
}

/// Every block as often as it is ridden, those without length too: its path, at which repeat of each set around it, and
/// its length.
pub(super) fn blocks_and_repeats(pieces: &[Piece]) -> Vec<(Path, Vec<u32>, Span)> {
    let mut all = Vec::new();
    for (index, piece) in pieces.iter().enumerate() {
        match piece {
            Piece::One(read) => all.push((vec![index], Vec::new(), read.block.length)),
            Piece::Set(repeat, inner) => {
                let inner = blocks_and_repeats(inner);
                for number in 1..=*repeat {
                    for (path, repeats, length) in &inner {
                        let path = std::iter::once(index).chain(path.iter().copied());
                        let repeats = std::iter::once(number).chain(repeats.iter().copied());
                        all.push((path.collect(), repeats.collect(), *length));
                    }
                }
            }
        }
    }
    all
}

impl fmt::Display for Wish {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut parts = Vec::new();
        if let Some(minutes) = self.minutes {
            parts.push(say!("{minutes} minutes at most", minutes));
        }
        if self.warm_up > 0 {
            parts.push(say!(
                "{minutes} minutes more of warm-up",
                minutes = self.warm_up
            ));
        }
        match self.recoveries {
            Recoveries::Full => {}
            Recoveries::HalfWay => parts.push(word!("recoveries half-way back").to_owned()),
            Recoveries::Easier => parts.push(word!("easier recoveries").to_owned()),
        }
        if parts.is_empty() {
            parts.push(word!("as it was written").to_owned());
        }
        f.write_str(&parts.join(", "))
    }
}
