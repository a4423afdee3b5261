//! A session as text again: what is written reads back as the same session.

use std::fmt::Write as _;

use super::cue::{ReadCue, written};
use super::model::{
    Audience, Brake, CadenceBand, CueKind, CuePlace, Kind, Load, Plan, Position, Target,
};
use super::unroll::{Piece, size};
use crate::plan::block::ReadBlock;
use crate::text::Language;
use crate::time::Span;

/// The text of a session of these blocks and sets, with the head of `plan`, after `comment`. Blocks without length, and
/// sets of which none is left, are left out.
pub(super) fn to_text(plan: &Plan, pieces: &[Piece], comment: &str) -> String {
    let mut text = comment.to_owned();
    let mut key = |key: &str, value: String| {
        // Writing to a string cannot fail.
        let _ = writeln!(text, "{key} = {value}");
    };
    key("format", "1".to_owned());
    if plan.language != Language::default() {
        key("language", quote(plan.language.code()));
    }
    key("name", quote(&plan.name));
    key("purpose", quote(&plan.purpose));
    if !plan.author.is_empty() {
        key("author", quote(&plan.author));
    }
    if plan.audience == Audience::Newcomers {
        key("for", quote("newcomers"));
    }
    if let Some(test) = plan.test {
        key("test", quote(test.key()));
    }
    key("whole", clock(size(pieces).1));
    put_pieces(&mut text, "block", pieces);
    text
}

fn put_pieces(text: &mut String, heading: &str, pieces: &[Piece]) {
    for piece in pieces {
        match piece {
            Piece::One(read) if read.block.length > Span::ZERO => put_block(text, heading, read),
            Piece::Set(repeat, inner) if size(inner).1 > Span::ZERO => {
                let _ = writeln!(text, "\n[[{heading}]]\nrepeat = {repeat}");
                put_pieces(text, &format!("{heading}.block"), inner);
            }
            Piece::One(_) | Piece::Set(..) => {}
        }
    }
}

fn put_block(text: &mut String, heading: &str, read: &ReadBlock) {
    let block = &read.block;
    let _ = writeln!(text, "\n[[{heading}]]");
    let mut key = |key: &str, value: String| {
        let _ = writeln!(text, "{key} = {value}");
    };
    key("kind", quote(block.kind.key()));
    key("name", quote(&block.name));
    key("time", clock(block.length));
    match block.target {
        Target::Steady(load) => key(load_key(load), load.value().to_string()),
        Target::Line(from, to) => key(
            load_key(from),
            format!("[{}, {}]", from.value(), to.value()),
        ),
        Target::None => {}
    }
    match block.cadence {
        Some(CadenceBand { low, high }) if low == high => key("cadence", low.0.to_string()),
        Some(CadenceBand { low, high }) => key("cadence", format!("[{}, {}]", low.0, high.0)),
        None => {}
    }
    if block.position != Position::OwnChoice {
        key("position", quote(block.position.key()));
    }
    if let Some(build_up) = block.build_up {
        key("build_up", clock(build_up));
    }
    if block.kind == Kind::Sprint {
        // Written out: what it would be otherwise hangs on its length.
        key(
            "brake",
            quote(match block.brake {
                Brake::Held => "held",
                Brake::Free => "free",
            }),
        );
    }
    if block.stretch != (block.kind != Kind::Sprint) {
        key("stretch", block.stretch.to_string());
    }
    if block.cut {
        key("cut", "true".to_owned());
    }
    for read in &read.cues {
        put_cue(text, heading, read);
    }
}

fn put_cue(text: &mut String, heading: &str, read: &ReadCue) {
    let cue = &read.cue;
    let _ = writeln!(text, "\n[[{heading}.cue]]");
    let mut key = |key: &str, value: String| {
        let _ = writeln!(text, "{key} = {value}");
    };
    match cue.place {
        CuePlace::FromStart(after) => key("at", clock(after)),
        CuePlace::FromEnd(before) => key("before_end", clock(before)),
    }
    key(
        "kind",
        quote(match cue.kind {
            CueKind::Do => "do",
            CueKind::Feel => "feel",
            CueKind::Why => "why",
            CueKind::Cheer => "cheer",
        }),
    );
    if let Some(speaker) = &cue.speaker {
        key("speaker", quote(speaker));
    }
    key("say", quote(&written(&cue.text)));
}

pub(super) const fn load_key(load: Load) -> &'static str {
    match load {
        Load::Effort(_) => "effort",
        Load::Threshold(_) => "threshold",
        Load::Power(_) => "watts",
        Load::Level(_) => "level",
        Load::Slope(_) => "slope",
    }
}

/// A length of time as the format writes it.
pub(super) fn clock(span: Span) -> String {
    quote(&span.to_string())
}

/// A TOML string. What was read holds no control characters; should one come, it is written as a space.
pub(super) fn quote(text: &str) -> String {
    let mut quoted = String::with_capacity(text.len() + 2);
    quoted.push('"');
    for letter in text.chars() {
        match letter {
            '"' | '\\' => quoted.extend(['\\', letter]),
            letter if letter.is_control() => quoted.push(' '),
            letter => quoted.push(letter),
        }
    }
    quoted.push('"');
    quoted
}
