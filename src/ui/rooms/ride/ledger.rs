//! Why this load stands, in words: every stage that changed it, from the plan to the brake, and what the legs add.

use egui::{Align2, Galley, Rect, Stroke, StrokeKind, Ui, pos2, vec2};
use std::sync::Arc;

use crate::engine::snapshot::Snapshot;
use crate::ride::{Entry, Ledger, RideMode, Stage};
use crate::text::{translated, word};
use crate::toml_table::a_capital;
use crate::ui::theme::{bold, regular, size};
use crate::ui::widgets::{Look, name, text};
use crate::ui::words;
use crate::units::{BrakeTarget, Effort, Grade, Level, Watts};

/// One stage: what came of it, and why.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Line {
    /// "203 W", "effort 7", "level 12.0", "slope 2.0 %".
    pub value: String,
    /// "Today's trim".
    pub why: String,
}

/// Why the load stands.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Data {
    /// The load itself: what was commanded last, or that the brake is off.
    pub title: String,
    /// The stages that changed it, the plan first; empty where the brake is off.
    pub lines: Vec<Line>,
    /// What is between lane and power now, how fast the brake answers, what the meter does: sentences.
    pub notes: Vec<String>,
}

impl Data {
    /// For the newest target. In effort-only mode no watts are told.
    pub fn new(snapshot: &Snapshot) -> Self {
        let no_watts = snapshot.ride_mode == RideMode::EffortOnly;
        let (title, lines) = match snapshot.ledger.as_deref() {
            _ if !snapshot.released.is_empty() => {
                let why = word(snapshot.released);
                (say!("No load: {why}.", why), Vec::new())
            }
            None => (word!("No load was asked for yet.").to_owned(), Vec::new()),
            Some(_) if !snapshot.brake_in_hand => (
                word!("The brake is not in hand now.").to_owned(),
                Vec::new(),
            ),
            Some(ledger) => {
                let asked = value(snapshot, ledger.target);
                (say!("Why {asked}", asked), stages(snapshot, ledger))
            }
        };
        let mut notes = Vec::new();
        if !lines.is_empty() && !no_watts {
            notes.extend(
                snapshot
                    .split
                    .and_then(|split| split.words())
                    .map(|words| format!("{}.", a_capital(&translated(&words)))),
            );
            let led = snapshot.meter_led.as_deref();
            notes.extend(led.map(|words| translated(words).into_owned()));
        }
        if !lines.is_empty() && !snapshot.brake_answer.is_empty() {
            notes.push(translated(&snapshot.brake_answer).into_owned());
        }
        Self {
            title,
            lines,
            notes,
        }
    }

    /// All of it, for a screen reader.
    pub fn spoken(&self) -> String {
        let lines = self
            .lines
            .iter()
            .map(|line| format!("{} {}.", line.value, line.why));
        let mut all = vec![self.title.clone()];
        all.extend(lines);
        all.extend(self.notes.iter().cloned());
        all.join(" ")
    }
}

/// The plan, every stage that changed the value, and where it is sent ahead.
fn stages(snapshot: &Snapshot, ledger: &Ledger) -> Vec<Line> {
    let mut lines: Vec<Line> = ledger
        .entries
        .iter()
        .filter(|entry| entry.stage == Stage::Plan || (entry.output - entry.input).abs() > 1e-9)
        .map(|entry| Line {
            value: value(snapshot, unit(ledger, entry)),
            why: why(entry),
        })
        .collect();
    // What changes less than is shown is not worth a line.
    lines.dedup_by(|line, before| line.value == before.value);
    if let Some(last) = lines.last_mut()
        && ledger.lead.seconds() > 0.0
    {
        let ahead = ledger.lead.seconds();
        last.why += &say!(", sent {ahead:.1} s ahead", ahead);
    }
    lines
}

/// What came of a stage, in its own unit: where the slow loop holds watts, all before it are watts.
fn unit(ledger: &Ledger, entry: &Entry) -> BrakeTarget {
    let value = entry.output;
    match ledger.target {
        _ if ledger.slow_watts().is_some() && entry.stage < Stage::SlowHold => {
            BrakeTarget::Power(Watts(value))
        }
        BrakeTarget::Power(_) => BrakeTarget::Power(Watts(value)),
        BrakeTarget::Resistance(_) => BrakeTarget::Resistance(Level(value)),
        BrakeTarget::Slope(_) => BrakeTarget::Slope(Grade(value)),
    }
}

/// A value of the chain as the rider may see it.
fn value(snapshot: &Snapshot, value: BrakeTarget) -> String {
    match value {
        BrakeTarget::Power(watts) if snapshot.ride_mode == RideMode::EffortOnly => {
            match effort(snapshot, watts) {
                None => word!("an easy load").to_owned(),
                Some(effort) if effort.0 > 9.0 => words::effort(effort),
                Some(effort) => say!("effort {effort}", effort = words::effort(effort)),
            }
        }
        BrakeTarget::Power(watts) => watts.to_string(),
        BrakeTarget::Resistance(level) => say!("level {level}", level),
        BrakeTarget::Slope(slope) => say!("slope {slope}", slope),
    }
}

fn effort(snapshot: &Snapshot, watts: Watts) -> Option<Effort> {
    let rider = snapshot.rider.as_deref()?;
    rider.effort_map.effort(watts, rider.threshold)
}

/// What a stage did, in a few words, with its own reason where that says more. The core gives its reason in English.
fn why(entry: &Entry) -> String {
    let stage = match entry.stage {
        Stage::Plan => entry!("the session"),
        Stage::Trim => entry!("today's trim"),
        Stage::EaseDown => entry!("eased"),
        Stage::BuildUp => entry!("on its way"),
        Stage::Meter => entry!("your meter's watts"),
        Stage::Guard => entry!("let off"),
        Stage::Cap => entry!("your cap"),
        Stage::SlowHold => entry!("what makes these watts"),
        Stage::Range => entry!("the trainer's range or step"),
    };
    let reason = match (entry.stage, entry.why) {
        (Stage::Trim | Stage::Meter | Stage::Cap | Stage::Range, _) => "",
        (_, reason) if reason.ends_with(stage) => "",
        (_, reason) => reason,
    };
    let stage = a_capital(word(stage));
    if reason.is_empty() {
        stage
    } else {
        format!("{stage}: {}", word(reason))
    }
}

/// The stages as they are laid out: what came of each, and why; how wide the widest value is; and the notes under them.
struct Laid {
    rows: Vec<(Arc<Galley>, Arc<Galley>)>,
    notes: Vec<Arc<Galley>>,
    wide: f32,
    /// Between two rows.
    between: f32,
}

impl Laid {
    fn high(&self) -> f32 {
        let high = |(value, why): &(Arc<Galley>, Arc<Galley>)| value.size().y.max(why.size().y);
        self.rows.iter().map(|row| high(row) + self.between).sum()
    }

    fn notes_high(&self, between: f32) -> f32 {
        self.notes.iter().map(|note| note.size().y + between).sum()
    }
}

/// Draws it over the whole of `rect`: a title, a line a stage with its value, and the notes under them. Notes that have
/// no room are left out, the last first.
pub(super) fn show(ui: &Ui, rect: Rect, data: &Data, least: f32, look: Look) {
    let painter = ui.painter();
    let colours = look.colours;
    painter.rect_filled(rect, 0.0, colours.ground);
    let stroke = Stroke::new(look.pt(1.5), colours.rule);
    painter.rect_stroke(rect, 0.0, stroke, StrokeKind::Inside);
    let inside = rect.shrink(look.pt(18.0).min(rect.height() * 0.05));
    let least = least.min(look.near(size::SMALL));
    let room = vec2(inside.width(), inside.height() * 0.3);
    let size = look.near(size::LINE);
    let title = text::fit(painter, &data.title, bold, size, least, room, colours.ink);
    let title = text::place(painter, title, inside, Align2::LEFT_TOP, colours.ink);
    let mut top = title.bottom() + look.pt(8.0);
    let mut told = data.title.clone();
    // All of one size: the largest at which every stage and every note fits, a long reason broken into lines.
    let gap = look.pt(18.0);
    let laid = |size: f32| -> Laid {
        let values: Vec<Arc<Galley>> = data
            .lines
            .iter()
            .map(|line| painter.layout_no_wrap(line.value.clone(), bold(size), colours.ink))
            .collect();
        let wide = values
            .iter()
            .map(|value| value.size().x)
            .fold(0.0, f32::max);
        let room = (inside.width() - wide - gap).max(1.0);
        let whys = data
            .lines
            .iter()
            .map(|line| painter.layout(line.why.clone(), regular(size), colours.ink, room));
        let rows: Vec<_> = values.into_iter().zip(whys).collect();
        // Notes are quieter, and no smaller than what is read leaning over the bars.
        let font = regular((size * 0.8).max(look.near(size::SMALL)));
        let notes = data
            .notes
            .iter()
            .map(|note| painter.layout(note.clone(), font.clone(), colours.quiet, inside.width()));
        Laid {
            rows,
            notes: notes.collect(),
            wide,
            between: size * 0.18,
        }
    };
    let most = look.far(size::LINE).max(least);
    let sizes = || (0..=8u8).map(|step| most + (least - most) * f32::from(step) / 8.0);
    let left = inside.bottom() - top;
    let laid = sizes()
        .map(laid)
        .find(|laid| laid.high() + laid.notes_high(look.pt(4.0)) + look.pt(8.0) <= left)
        // Notes go before a stage does; then all stages at once, in a small window: what was commanded in the end must
        // not be cut off.
        .or_else(|| {
            sizes()
                .chain([0.86, 0.74].map(|share| least * share))
                .map(laid)
                .find(|laid| laid.high() <= left)
        })
        .unwrap_or_else(|| laid(least * 0.74));
    let right = inside.left() + laid.wide;
    for ((value, why), line) in laid.rows.into_iter().zip(&data.lines) {
        let high = value.size().y.max(why.size().y);
        if top + high > inside.bottom() + 1.0 {
            break;
        }
        let at = pos2(right - value.size().x, top);
        painter.galley(at, value, colours.ink);
        painter.galley(pos2(right + gap, top), why, colours.ink);
        told += &format!(" {} {}.", line.value, line.why);
        top += high + laid.between;
    }
    top += look.pt(8.0);
    for (galley, note) in laid.notes.into_iter().zip(&data.notes) {
        if top + galley.size().y > inside.bottom() + 1.0 {
            break;
        }
        let high = galley.size().y;
        painter.galley(pos2(inside.left(), top), galley, colours.quiet);
        told += &format!(" {note}");
        top += high + look.pt(4.0);
    }
    name(ui, rect, entry!("Why this load"), &told);
}
