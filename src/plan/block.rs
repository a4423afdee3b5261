//! One block: what it asks for, and who makes the watts.

use super::cue::{ReadCue, read_cue};
use super::fields::{BLOCK, FIELDS, MOST_CUES, TARGETS};
use super::model::{Block, Brake, CadenceBand, Kind, Load, Position, Target};
use crate::text::{self, Language};
use crate::time::Span;
use crate::toml_table::{Problems, Table, Value, Values, one_of, quoted, read_table};
use crate::units::{Effort, Fraction, Grade, Rpm, Watts};

/// The longest all-out sprint that is ridden against a standing level unless the session says otherwise: too short for
/// a power-holding brake (common practice, no source).
const SHORT_SPRINT: Span = Span::from_seconds(15);

/// A block as read, with the places of its cues, which are gathered into the block when sets are unrolled.
#[derive(Clone, Debug)]
pub(super) struct ReadBlock {
    pub(super) block: Block,
    pub(super) cues: Vec<ReadCue>,
    pub(super) at: usize,
}

/// Reads one block's table.
pub(super) fn read_block(
    table: Table<'_>,
    lost_keys: &[String],
    language: Language,
    problems: &mut Problems,
) -> Option<ReadBlock> {
    let values = read_table(FIELDS, BLOCK, table, lost_keys, problems);
    let kind = values
        .word("kind")
        .and_then(|word| Kind::ALL.into_iter().find(|kind| kind.key() == word));
    let length = values.clock("time");
    let target = read_target(&values, kind, lost_keys, problems);
    let brake = read_brake(&values, kind, length, target, problems);
    check_build_up(&values, kind, length, problems);
    if values.flag("cut") == Some(true) && matches!(kind, Some(Kind::WarmUp | Kind::CoolDown)) {
        problems.error(
            values.at("cut"),
            word!("A warm-up or cool-down may not be left out on the day."),
            word!("Take `cut` out."),
        );
    }
    let cues = read_cues(&values, length, lost_keys, problems);
    let (kind, length) = (kind?, length?);
    let block = Block {
        name: values
            .text("name")
            .unwrap_or_else(|| text::within(language, || text::word(name_of(kind)).to_owned())),
        kind,
        length,
        target: target?,
        cadence: read_cadence(&values),
        position: values
            .word("position")
            .map_or(Position::OwnChoice, position),
        build_up: values.clock("build_up"),
        brake,
        stretch: values.flag("stretch").unwrap_or(kind != Kind::Sprint),
        cut: values.flag("cut").unwrap_or(false),
        main: !matches!(kind, Kind::WarmUp | Kind::CoolDown),
        repeat: None,
        cues: Vec::new(),
    };
    Some(ReadBlock {
        block,
        cues,
        at: table.at,
    })
}

/// What a block is called that has no name, in English.
fn name_of(kind: Kind) -> &'static str {
    match kind {
        Kind::WarmUp => entry!("Warm-up"),
        Kind::Hold => entry!("Hold"),
        Kind::Recovery => entry!("Recovery"),
        Kind::Sprint => entry!("Sprint"),
        Kind::CoolDown => entry!("Cool-down"),
        Kind::Free => entry!("Free riding"),
    }
}

fn position(word: &str) -> Position {
    match word {
        "seated" => Position::Seated,
        "standing" => Position::Standing,
        "low" => Position::Low,
        _ => Position::OwnChoice,
    }
}

fn load_of(key: &str, value: f64) -> Load {
    match key {
        "threshold" => Load::Threshold(Fraction(value)),
        "watts" => Load::Power(Watts(value)),
        "level" => Load::Level(Fraction(value)),
        "slope" => Load::Slope(Grade(value)),
        _ => Load::Effort(Effort(value)),
    }
}

fn read_target(
    values: &Values,
    kind: Option<Kind>,
    lost_keys: &[String],
    problems: &mut Problems,
) -> Option<Target> {
    let mut given: Vec<&str> = TARGETS
        .iter()
        .copied()
        .filter(|key| values.has(key))
        .collect();
    given.sort_by_key(|key| values.at(key));
    match (given.as_slice(), kind) {
        (&[key, ..], Some(Kind::Free)) => {
            problems.error(
                values.at(key),
                say!(
                    "A free block asks for nothing, and this one has {key}.",
                    key = quoted(key)
                ),
                word!("Take it out, or make the block a hold."),
            );
            None
        }
        (&[], Some(Kind::Free)) => Some(Target::None),
        (&[], _) => {
            if !TARGETS
                .iter()
                .any(|key| lost_keys.iter().any(|lost| lost == key))
            {
                problems.error(
                    values.at,
                    word!("The block does not say how hard it is."),
                    say!(
                        "Add one of {keys}, as in effort = 7.",
                        keys = one_of(TARGETS)
                    ),
                );
            }
            None
        }
        (&[key], _) => match *values.get(key)? {
            Value::Number(steady) => Some(Target::Steady(load_of(key, steady))),
            Value::Pair(from, to) => Some(Target::Line(load_of(key, from), load_of(key, to))),
            _ => None,
        },
        (&[first, second, ..], _) => {
            problems.error(
                values.at(second),
                say!(
                    "The block is given its load twice, by {first} and {second}. A line between unlike targets cannot be ridden either: nobody knows what lies between them.",
                    first = quoted(first),
                    second = quoted(second)
                ),
                word!("Keep one; a line has two figures of one sort, as in effort = [2, 4]."),
            );
            None
        }
    }
}

/// Who makes the watts: as written, else by the rules of the format; and the refusals.
fn read_brake(
    values: &Values,
    kind: Option<Kind>,
    length: Option<Span>,
    target: Option<Target>,
    problems: &mut Problems,
) -> Brake {
    let greatest = target.and_then(Target::greatest);
    let all_out = greatest.is_some_and(Load::is_all_out);
    let sprint = kind == Some(Kind::Sprint);
    if values.has("brake") && kind.is_some() && !sprint {
        problems.error(
            values.at("brake"),
            word!("Only a sprint says who makes the watts."),
            word!("Take `brake` out; where the rider shall make the watts, give a level or a slope in place of an effort."),
        );
    }
    let set_by_level =
        target == Some(Target::None) || greatest.is_some_and(|load| !load.is_power());
    let short = length.is_some_and(|length| length <= SHORT_SPRINT);
    let brake = match values.word("brake") {
        Some("held") if set_by_level => {
            problems.error(
                values.at("brake"),
                word!("The brake cannot hold watts at a level or a slope."),
                word!("Write brake = \"free\", or give the sprint an effort up to 9."),
            );
            Brake::Held
        }
        Some("held") => Brake::Held,
        Some(_) => Brake::Free,
        None if set_by_level || (sprint && all_out && short) => Brake::Free,
        None => Brake::Held,
    };
    // A sprint that is held all out is held at the rider's sprint cap; nothing else may ask for what has no figure.
    if all_out && !sprint && kind.is_some() {
        problems.error(
            values.at("effort"),
            word!("An effort above 9 is all out and has no figure in watts, so the brake cannot hold it."),
            word!("Write an effort up to 9, or make it a sprint."),
        );
    }
    brake
}

fn check_build_up(
    values: &Values,
    kind: Option<Kind>,
    length: Option<Span>,
    problems: &mut Problems,
) {
    let Some(build_up) = values.clock("build_up") else {
        return;
    };
    if kind == Some(Kind::Free) {
        problems.error(
            values.at("build_up"),
            word!("A free block has no load that could build up."),
            word!("Take `build_up` out."),
        );
    } else if let Some(length) = length.filter(|&length| build_up > length) {
        problems.error(
            values.at("build_up"),
            say!(
                "The build-up of {build_up} is longer than its block of {length}.",
                build_up,
                length
            ),
            word!("Make it shorter, or the block longer."),
        );
    }
}

fn read_cadence(values: &Values) -> Option<CadenceBand> {
    let (low, high) = match *values.get("cadence")? {
        Value::Number(figure) => (figure, figure),
        Value::Pair(low, high) => (low, high),
        _ => return None,
    };
    Some(CadenceBand {
        low: Rpm(low),
        high: Rpm(high),
    })
}

fn read_cues(
    values: &Values,
    length: Option<Span>,
    lost_keys: &[String],
    problems: &mut Problems,
) -> Vec<ReadCue> {
    let tables = values.tables("cue");
    if let Some(extra) = tables.get(MOST_CUES) {
        problems.error(
            extra.at,
            say!(
                "The block has {count} cues; {most} is the most.",
                count = tables.len(),
                most = MOST_CUES
            ),
            word!("Take some out, or split the block."),
        );
    }
    let mut cues: Vec<ReadCue> = tables
        .iter()
        .take(MOST_CUES)
        .filter_map(|&table| read_cue(table, lost_keys, problems))
        .collect();
    if let Some(length) = length {
        cues.sort_by_key(|read| read.cue.due(length));
    }
    cues
}
